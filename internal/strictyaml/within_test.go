package strictyaml_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// TestWithin marks a place in texts written in every way that YAML has (YAML 1.2.2, chapters 7.3 and 8.1): the mark is
// the character @, found in the text that was read, and found again in the file.
func TestWithin(t *testing.T) {
	for name, file := range map[string]string{
		"plain":                "title: a b @ c",
		"plain at the end":     "title: a b @",
		"plain, next line":     "title:\n  a b\n  @ c",
		"plain, many lines":    "title: a b\n  c  @ d\n\n  e",
		"single quotes":        "title: 'a ''b'' @ c'",
		"single quotes, lines": "title: 'a ''\n   b''   c\n\n   @ d'",
		"double quotes":        `title: "a \"b\" \u00e9\x41 @ c"`,
		"double quotes, lines": "title: \"a \\\n   b c\\n d\n   \\\\ @ e\"",
		"escaped blanks":       `title: "a\u0020\x20b @"`,
		"literal":              "title: |\n  a\n    b @\n\n  c",
		"literal, indented":    "title: |2\n    a\n  @ b",
		"literal, stripped":    "title: |-\n  a\n\n  b\n   @",
		"literal, no content":  "title: |\n\n\n  a@",
		"folded":               "title: >\n  a b\n  c d\n\n  e\n    f @\n  g",
		"folded, stripped":     "title: >-\n  a @\n  b\n",
		"comment after header": "title: | # why\n  a # b\n  @ c",
		"wide characters":      "title: 北京 é @ c",
		"in flow":              "{title: a b @ c, note: d}",
		"quoted in flow":       "{note: d, title: 'a ''b'' @'}",
		"carriage returns":     "title: |\r\n  a\r\n  b @\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			bike := &pb.BikeFacts{}
			positions, problems := strictyaml.Decode("f.yaml", []byte(file), bike, strictyaml.Options{What: "bike"})
			if len(problems) > 0 {
				t.Fatalf("%s", strictyaml.Format(problems))
			}
			got := positions.Within("title", bike.GetTitle(), spotOf(bike.GetTitle()))
			if want := spotOf(file); got != want {
				t.Errorf("the mark of %q is said to be at %v, is at %v", file, got, want)
			}
		})
	}
}

// spotOf is where the mark stands.
func spotOf(text string) strictyaml.Spot {
	before, _, _ := strings.Cut(text, "@")
	return strictyaml.Spot{
		Line:   strings.Count(before, "\n") + 1,
		Column: len([]rune(before[strings.LastIndexByte(before, '\n')+1:])) + 1,
	}
}

// TestWithinEnd: a spot at or after the end of the text is just behind its last character; a path that the file does not
// have is where At says.
func TestWithinEnd(t *testing.T) {
	bike := &pb.BikeFacts{}
	positions, _ := strictyaml.Decode("f.yaml", []byte("note: x\ntitle: |\n  a b\n  cd\n"), bike, strictyaml.Options{What: "bike"})
	for _, at := range []strictyaml.Spot{{2, 3}, {2, 99}, {9, 1}} {
		if got := positions.Within("title", "a b\ncd", at); got != (strictyaml.Spot{Line: 4, Column: 5}) {
			t.Errorf("%v: %v", at, got)
		}
	}
	line, column := positions.At("guards")
	if got := positions.Within("guards", "x", strictyaml.Spot{Line: 1, Column: 1}); got != (strictyaml.Spot{Line: line, Column: column}) {
		t.Errorf("%v", got)
	}
	if got := positions.Within("note", "not what stands there at all", strictyaml.Spot{Line: 1, Column: 20}); got.Line < 1 {
		t.Errorf("%v", got)
	}
}

// TestWithinAnywhere: no text and no spot crash it, and what it gives is a place of the file.
func TestWithinAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[ab'"\\@é \n|>#:-]{0,20}`).Draw(t, "text")
		style := rapid.SampledFrom([]string{"title: ", "title: |\n  ", "title: >\n  ", "title: \"", "title: '"}).Draw(t, "style")
		file := style + strings.ReplaceAll(text, "\n", "\n  ")
		if q := style[len(style)-1]; q == '"' || q == '\'' {
			file += string(q)
		}
		bike := &pb.BikeFacts{}
		positions, _ := strictyaml.Decode("f.yaml", []byte(file), bike, strictyaml.Options{What: "bike"})
		at := strictyaml.Spot{Line: rapid.IntRange(-1, 9).Draw(t, "line"), Column: rapid.IntRange(-1, 30).Draw(t, "column")}
		got := positions.Within("title", bike.GetTitle(), at)
		lines := strings.Split(file, "\n")
		if got.Line < 1 || got.Line > len(lines) || got.Column < 1 || got.Column > len([]rune(lines[got.Line-1]))+1 {
			t.Fatalf("%v of %q", got, file)
		}
	})
}
