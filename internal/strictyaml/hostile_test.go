package strictyaml_test

import (
	"strings"
	"testing"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// TestHostile: input made to break a reader gives a problem, and quickly.
func TestHostile(t *testing.T) {
	big := strictyaml.MaxBytes
	for name, text := range map[string]string{
		"too large":           "title: " + strings.Repeat("x", big),
		"deep list":           strings.Repeat("[", big/2),
		"deep keys":           strings.Repeat("{a: ", big/4),
		"deep hyphens":        strings.Repeat("- ", big/2),
		"many entries":        "lights:\n" + strings.Repeat("- {}\n", big/6),
		"many unknown keys":   strings.Repeat("a: 1\n", big/6),
		"long key":            strings.Repeat("k", 1000) + ": 1\n",
		"long key in quotes":  `"` + strings.Repeat(`\e`, 500) + `": 1` + "\n",
		"many quotes":         strings.Repeat(`"`, big/2),
		"many question marks": strings.Repeat("? ", big/4),
		"many colons":         strings.Repeat(":\n", big/4),
		"nul bytes":           strings.Repeat("\x00", 1000),
		"not utf-8":           "title: \xff\xfe\xfd\n",
		"carriage returns":    "title: a\rnote: b\r",
		"cut in a character":  "title: K\xc3",
		"alias to itself":     "title: &a [*a]\n",
		"aliases":             "title: &a b\nnote: *a\n",
		"merge":               "<<: {title: a}\n",
		"binary":              "title: !!binary aGVsbG8=\n",
		"escape in key":       "\"\\e[31mtitle\": b\n",
		"second document":     "title: a\n---\n",
		"second, empty":       "title: a\n---\n---\n",
		"directive":           "%TAG ! tag:x,2026:\n---\ntitle: !x a\n",
	} {
		t.Run(name, func(t *testing.T) {
			_, _, problems := bike(text)
			if len(problems) == 0 || len(problems) > strictyaml.MaxProblems+1 {
				t.Fatalf("%d problems", len(problems))
			}
			checkProblems(t, problems)
		})
	}
}

// checkProblems wants of every problem what a person needs, and nothing that a terminal would act on.
func checkProblems(t *testing.T, problems []*pb.Problem) {
	t.Helper()
	for _, p := range problems {
		if p.GetFile() == "" || p.GetMessage() == "" || p.GetSeverity() == pb.Problem_SEVERITY_UNSPECIFIED {
			t.Errorf("incomplete: %v", p)
		}
		if (p.GetLine() == 0) != (p.GetColumn() == 0) || p.GetLine() < 0 || p.GetColumn() < 0 {
			t.Errorf("place %d:%d", p.GetLine(), p.GetColumn())
		}
		for _, text := range []string{p.GetPath(), p.GetMessage(), p.GetHint(), p.GetExcerpt()} {
			if len(text) > 2000 {
				t.Errorf("%d bytes: %.80s", len(text), text)
			}
			if strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x202e }) {
				t.Errorf("control characters in %q", text)
			}
		}
	}
	if strings.Count(strictyaml.Format(problems), "\n") < len(problems) {
		t.Error("a problem is not written")
	}
}

func TestUnknownKeys(t *testing.T) {
	for text, hint := range map[string]string{
		"titel: b":                      "did you mean title?",
		"odometer_km: 5km":              "did you mean odometer?",
		"zzzzzz: b":                     "known here: title, guards",
		"Title: b":                      "did you mean title?",
		"reflector: {}":                 "did you mean reflectors?",
		strings.Repeat("t", 50) + ": 1": "known here: title",
	} {
		_, _, problems := bike("note: n\n" + text + "\n")
		found := false
		for _, p := range problems {
			found = found || strings.HasPrefix(p.GetHint(), hint) && strings.HasPrefix(p.GetMessage(), "unknown key")
		}
		if !found {
			t.Errorf("%s:\n%s", text, strictyaml.Format(problems))
		}
	}
}

// TestFormat compares the whole of what a person sees, with wide characters before the caret.
func TestFormat(t *testing.T) {
	_, _, problems := bike("{title: 自転車, odometer: 5}\n")
	want := "bike.yaml:1:24: \"5\" has no unit\n" +
		"    {title: 自転車, odometer: 5}\n" +
		"                              ^\n" +
		"    write a number with its unit, like 12000km, from 0km to 1000000km\n"
	if got := strictyaml.Format(problems); got != want {
		t.Errorf("got:\n%swant:\n%s", got, want)
	}
}
