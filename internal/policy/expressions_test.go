package policy_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"gritward/internal/policy"
	"gritward/internal/strictyaml"
	policyfile "gritward/policy"
)

// withRules is the shipped policy with other rules.
func withRules(rules string) []byte {
	head, _, _ := bytes.Cut(policyfile.Winter, []byte("\nrules:\n"))
	return append(append(bytes.Clone(head), "\nrules:\n  - {id: rear, check: lights, when: dark, need: {front: 1, rear: 1}, otherwise: hold}\n"...), rules...)
}

// TestExpressionPlaces: what is wrong with an expression is told where it stands in the file, however it is written
// there. The mark ¦ stands before the place, and is taken out before the file is read.
func TestExpressionPlaces(t *testing.T) {
	const unknown = `Light has no field "runtime"`
	for name, c := range map[string]struct{ need, message, hint string }{
		"plain":           {"bike.lights.exists(l, l.¦runtime > 60)", unknown, "did you mean runtime_min?"},
		"plain, two":      {"bike.lights.exists(l,\n      l.¦runtime\n      > 60)", unknown, "did you mean runtime_min?"},
		"next line":       {"\n      bike.lights.exists(l, l.¦runtime > 60)", unknown, "did you mean runtime_min?"},
		"single quotes":   {"'bike.title != ''x'' && bike.lights.exists(l, l.¦runtime > 60)'", unknown, "did you mean runtime_min?"},
		"double quotes":   {`"bike.title != \"x\\\\\" && bike.lights.exists(l, l.¦runtime > 60)"`, unknown, "did you mean runtime_min?"},
		"literal":         {"|\n      // lamps\n      bike.lights.exists(l,\n        l.¦runtime > 60)", unknown, "did you mean runtime_min?"},
		"folded":          {">-\n      bike.lights.exists(l,\n      l.¦runtime\n      > 60)\n", unknown, "did you mean runtime_min?"},
		"folded, blank":   {">\n\n      bike.lights\n\n      .exists(l, l.¦runtime > 60)\n", unknown, "did you mean runtime_min?"},
		"wide characters": {"\"bike.title != '北京é' && bike.lights.exists(l, l.¦runtime > 60)\"", unknown, "did you mean runtime_min?"},
		"too early":       {"|\n      bike.lights.exists(l,\n        l.end == REAR¦", "the expression ends too early", "check brackets, quotes, and the signs between the parts: && || ! == != < <= > >="},
		"not a bool":      {"¦bike.tyres.front.width_mm", "the expression gives a number; a rule needs true or false", "compare it with something, for example with >="},
		"too long":        {`¦"` + strings.Repeat("wet || ", 286) + `wet"`, "need is too long: 2005 characters, at most 2000", "say it in fewer words"},
		"empty":           {`¦""`, "", ""},
		"keys":            {"¦{rear: 1}", "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			marked := withRules("  - id: own\n    check: expression\n    when: always\n    need: " + c.need + "\n    otherwise: advise\n")
			before, _, _ := bytes.Cut(marked, []byte("¦"))
			line, column := bytes.Count(before, []byte("\n"))+1, len([]rune(string(before[bytes.LastIndexByte(before, '\n')+1:])))+1
			p, problems := policy.Read("p.yaml", bytes.Replace(marked, []byte("¦"), nil, 1))
			if p != nil || len(problems) != 1 {
				t.Fatalf("%s", strictyaml.Format(problems))
			}
			got := problems[0]
			if got.GetLine() != int32(line) || got.GetColumn() != int32(column) {
				t.Errorf("at %d:%d, want %d:%d\n%s", got.GetLine(), got.GetColumn(), line, column, strictyaml.Format(problems))
			}
			if c.message != "" && (got.GetMessage() != c.message || got.GetHint() != c.hint) {
				t.Errorf("%q, %q", got.GetMessage(), got.GetHint())
			}
			if got.GetPath() != "rules[1].need" {
				t.Errorf("path %s", got.GetPath())
			}
		})
	}
}

// TestExpressionFormat shows the whole of what a secretary sees.
func TestExpressionFormat(t *testing.T) {
	_, problems := policy.Read("p.yaml", withRules(`  - id: own
    check: expression
    when: dark
    need: |
      bike.lights.exists(l, l.end == STEADY) &&
      bike.guards.rear.kind == NONE
    otherwise: advise
`))
	got := strictyaml.Format(problems)
	first := bytes.Count(withRules(""), []byte("\n")) + 5
	want := fmt.Sprintf(`p.yaml:%d:35: == does not go between End and Light.Mode
          bike.lights.exists(l, l.end == STEADY) &&
                                      ^
    words of End are FRONT, REAR
p.yaml:%d:32: "NONE" is a word of several kinds
          bike.guards.rear.kind == NONE
                                   ^
    write one of Brake.NONE, Guard.NONE, Tyre.NONE
`, first, first+1)
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// TestExamples: the expressions that the shipped policy has as comments do what they say once the # is taken away.
func TestExamples(t *testing.T) {
	_, tail, found := strings.Cut(string(policyfile.Winter), "own words ---")
	at := strings.Index(tail, "  # - id:")
	if !found || at < 0 {
		t.Fatal("no examples")
	}
	p, problems := policy.Read("p.yaml", withRules(strings.ReplaceAll(tail[at:], "  # ", "  ")))
	if p == nil || len(p.Rules()) != 3 {
		t.Fatalf("%s", strictyaml.Format(problems))
	}
}

// manyExpressions is a policy of so many rules with an expression each, all different.
func manyExpressions(n int, field string) []byte {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "  - {id: r%d, check: expression, when: dark, need: 'bike.lights.exists(l, l.%s >= group.lit_min + %d)', otherwise: advise}\n", i, field, i)
	}
	return withRules(b.String())
}

// TestManyExpressions: all rules of a large policy are compiled; of a policy in which all are wrong the first hundred
// are told.
func TestManyExpressions(t *testing.T) {
	if p, problems := policy.Read("p.yaml", manyExpressions(1000, "runtime_min")); p == nil || len(p.Rules()) != 1001 {
		t.Fatalf("%s", strictyaml.Format(problems))
	}
	p, problems := policy.Read("p.yaml", manyExpressions(1000, "runtime"))
	if p != nil || len(problems) != strictyaml.MaxProblems+1 {
		t.Fatalf("%d problems", len(problems))
	}
}

// BenchmarkManyExpressions reads 1,000 rules with expressions, beside 1,000 with the same expression faulty.
func BenchmarkManyExpressions(b *testing.B) {
	for name, field := range map[string]string{"good": "runtime_min", "bad": "runtime"} {
		b.Run(name, func(b *testing.B) {
			data := manyExpressions(1000, field)
			for b.Loop() {
				policy.Read("p.yaml", data)
			}
		})
	}
}
