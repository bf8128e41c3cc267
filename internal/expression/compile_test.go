package expression_test

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"gritward/internal/expression"
)

// TestBad compares all that is said of each line of testdata/bad.txt with testdata/bad.want. In a line \n begins a new
// line of the expression.
func TestBad(t *testing.T) {
	data, err := os.ReadFile("testdata/bad.txt")
	if err != nil {
		t.Fatal(err)
	}
	var got strings.Builder
	for line := range strings.Lines(string(data)) {
		line = strings.TrimSuffix(line, "\n")
		text := strings.ReplaceAll(line, `\n`, "\n")
		p, issues := expression.Compile(text)
		if p != nil || len(issues) == 0 {
			t.Errorf("%s: compiled", line)
		}
		fmt.Fprintln(&got, line)
		for _, issue := range issues {
			place(t, text, issue)
			fmt.Fprintf(&got, "    %d:%d: %s\n        %s\n", issue.Line, issue.Column, issue.Message, issue.Hint)
		}
	}
	if flag.Lookup("update").Value.(flag.Getter).Get().(bool) {
		if err := os.WriteFile("testdata/bad.want", []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("testdata/bad.want")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got.String()); diff != "" {
		t.Errorf("issues (-want +got):\n%s", diff)
	}
}

// place checks that an issue has words, and a place within the text or just behind a line of it.
func place(t *testing.T, text string, issue expression.Issue) {
	t.Helper()
	lines := strings.Split(text, "\n")
	if issue.Line < 1 || issue.Line > len(lines) || issue.Column < 1 || issue.Column > utf8.RuneCountInString(lines[issue.Line-1])+1 {
		t.Errorf("%q: place %d:%d", text, issue.Line, issue.Column)
	}
	if issue.Message == "" || issue.Hint == "" || strings.Contains(issue.Message+issue.Hint, "_[_]") {
		t.Errorf("%q: message %q, hint %q", text, issue.Message, issue.Hint)
	}
}

// TestHostile: texts that would take long, or much room, are refused with a message, or compile to something bounded.
func TestHostile(t *testing.T) {
	loops := func(n int, list string) string {
		head, tail := "", "wet"
		for i := range n {
			head += fmt.Sprintf("%s.all(x%d, ", list, i)
			tail += ")"
		}
		return head + tail
	}
	for _, c := range []struct{ name, text, message string }{
		{"10,000 characters", strings.Repeat("a", 10_000), "the expression is too long: 10000 characters, at most 2000"},
		{"2,001 characters of several bytes", strings.Repeat("é", 2001), "the expression is too long: 2001 characters, at most 2000"},
		{"not UTF-8", "bike.title == '\xff'", "the expression is not UTF-8"},
		{"brackets", strings.Repeat("(", 900) + "wet" + strings.Repeat(")", 900), "the expression is nested too deeply"},
		{"open brackets", strings.Repeat("(", 2000), "the expression is nested too deeply"},
		{"lists in lists", strings.Repeat("[", 1000) + "1" + strings.Repeat("]", 990), "the expression is nested too deeply"},
		{"conditions", strings.Repeat("wet?wet:", 200) + "wet", "the expression is nested too deeply"},
		{"two loops of lamps", loops(2, "bike.lights"), ""},
		{"three loops of lamps", loops(3, "bike.lights"), "the expression could take too long: its cost could come to 7851, at most 5000"},
		{"four loops of lamps", loops(4, "bike.lights"), "the expression could take too long: its cost could come to 94251, at most 5000"},
		{"twelve loops of lamps", loops(12, "bike.lights"), "the expression could take too long: its cost has no bound that can be known"},
		{"a loop over two hundred numbers, twice", "[" + strings.Repeat("1,", 199) + "1].all(a, [" + strings.Repeat("1,", 199) + "1].all(b, a < b || wet))",
			"the expression could take too long: its cost could come to 282811, at most 5000"},
		{"a product of lists", "[1,2,3,4,5,6,7,8].map(a, [1,2,3,4,5,6,7,8].map(b, [1,2,3,4,5,6,7,8].map(c, [1,2,3,4,5,6,7,8].map(d, 'x' + bike.title)))) == []",
			"the expression could take too long: its cost could come to 105320, at most 5000"},
		{"a pattern that never ends", "bike.title.matches('(a+)+$')", `there is no function "matches"`},
		{"a pattern from the facts", "'aaaa'.matches(bike.title)", `there is no function "matches"`},
		{"a thousand signs", strings.Repeat("!", 1990) + "wet", ""},
		{"a long sum", strings.Repeat("1+", 990) + "1 < group.lit_min", "the expression is nested too deeply"},
		{"a long list of alternatives", strings.TrimSuffix(strings.Repeat("wet||", 380), "||"), ""},
		{"NUL", "wet\x00", `"` + "\x00" + `" does not belong here`},
		{"letters of another script", "bike.гuards", `"г" does not belong here`},
		{"an emoji", "wet && 🚲", `"🚲" does not belong here`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, issues := expression.Compile(c.text)
			got := ""
			if len(issues) > 0 {
				got = issues[0].Message
				place(t, c.text, issues[0])
			}
			if got != c.message {
				t.Errorf("said %q, want %q", got, c.message)
			}
		})
	}
}
