package readiness

import (
	"errors"
	"strings"

	"gritward/internal/expression"
	pb "gritward/proto/gritward/v1"
)

// maxShown is the most characters of an expression that stand in a finding.
const maxShown = 200

// NewCompiledRule is NewRule for a rule whose expression has been compiled already.
func NewCompiledRule(rule *pb.Rule, line int, program *expression.Program) Rule {
	return newRule(rule, line, program)
}

// programOf compiles the expression of a rule that has one; nil where it is faulty: the rule is then never met.
func programOf(rule *pb.Rule) *expression.Program {
	if rule.GetExpression() == "" {
		return nil
	}
	program, _ := expression.Compile(rule.GetExpression())
	return program
}

// tellExpression looks whether the rule's expression is true of the bike in the group. What cannot be worked out is not
// met.
func tellExpression(c *context, rule Rule, w *words) verdict {
	v := verdict{needed: expressionNeeded(rule)}
	from := w.len()
	if rule.form.program == nil {
		w.add("not looked at: the expression is faulty")
		v.declared, v.todo = w.since(from), askSecretary()
		return v
	}
	met, err := rule.form.program.Eval(c.facts, c.group)
	v.met = met && err == nil
	switch {
	case err != nil:
		w.couldNot(err)
		v.notDeclared, v.todo = declareFor(err)
	case met:
		w.add("true for this bike")
		w.values(rule.form.program.Values(c.facts, c.group))
	default:
		w.add("false for this bike")
		w.values(rule.form.program.Values(c.facts, c.group))
	}
	v.declared = w.since(from)
	if !v.met {
		v.todo = append(v.todo, askSecretary()...)
	}
	return v
}

// metExpression is tellExpression without words.
func metExpression(f *form) func(*context) bool {
	program := f.program
	return func(c *context) bool {
		if program == nil {
			return false
		}
		met, err := program.Eval(c.facts, c.group)
		return met && err == nil
	}
}

// expressionNeeded is the expression, its facts called as in a bike file; the reason for it is told beside it.
func expressionNeeded(rule Rule) string {
	whole := strings.Join(strings.Fields(rule.GetExpression()), " ")
	if rule.form.program != nil {
		whole = rule.form.program.InFile()
	}
	text := []rune(whole)
	if len(text) > maxShown {
		return string(text[:maxShown]) + "…"
	}
	return whole
}

// askSecretary is what is left to do about an expression: what would make it true only its writer knows.
func askSecretary() []sentence {
	return []sentence{{text: "Ask the secretary what this rule wants.", aside: true, last: true}}
}

// couldNot says why there is no result.
func (w *words) couldNot(err error) {
	var missing *expression.MissingError
	switch {
	case errors.As(err, &missing) && missing.OfBike && missing.Path == "bike":
		w.add(notDeclared)
	case errors.As(err, &missing):
		w.add(missing.Fact)
		w.add(choose(missing.OfBike, " is "+notDeclared, " is not known"))
	default:
		w.add("the expression could not be worked out: ")
		w.add(err.Error())
	}
}

// declareFor is what to declare so that there is a result.
func declareFor(err error) (notDeclared bool, todo []sentence) {
	var missing *expression.MissingError
	switch {
	case !errors.As(err, &missing) || !missing.OfBike:
		return false, nil
	case missing.Path == "bike":
		return true, do("Declare the bike and certify it.")
	default:
		return true, declares([]string{missing.Fact})
	}
}

// values adds the values of fields: ": tyres.front.width is 25mm".
func (w *words) values(told []string) {
	if len(told) > 0 {
		w.add(": ")
		w.add(strings.Join(told, ", "))
	}
}
