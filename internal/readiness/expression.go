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
		v.declared, v.todo = w.since(from), askSecretary(rule)
		return v
	}
	met, err := rule.form.program.Eval(c.facts, c.group)
	v.met = met && err == nil
	switch {
	case err != nil:
		w.couldNot(err)
		v.notDeclared, v.todo = declareFor(err)
	case met:
		w.add("the expression is true for this bike")
		w.values(rule.form.program.Values(c.facts, c.group))
	default:
		w.add("the expression is false for this bike")
		w.values(rule.form.program.Values(c.facts, c.group))
	}
	v.declared = w.since(from)
	if !v.met {
		v.todo = append(v.todo, askSecretary(rule)...)
	}
	return v
}

// metExpression is tellExpression without words.
func metExpression(c *context, rule Rule) bool {
	if rule.form.program == nil {
		return false
	}
	met, err := rule.form.program.Eval(c.facts, c.group)
	return met && err == nil
}

// expressionNeeded is the club's reason, which says in words what the expression says in signs; without one, the
// expression.
func expressionNeeded(rule Rule) string {
	if because := rule.GetBecause(); because != "" {
		return because
	}
	text := []rune(strings.Join(strings.Fields(rule.GetExpression()), " "))
	if len(text) > maxShown {
		return string(text[:maxShown]) + "…"
	}
	return string(text)
}

// askSecretary is what is left to do about an expression: what would make it true only its writer knows.
func askSecretary(rule Rule) []sentence {
	text := "Ask the secretary what this rule wants."
	if because := strings.TrimRight(rule.GetBecause(), "."); because != "" {
		text = because + ". " + text
	}
	return []sentence{{text: text, aside: true}}
}

// couldNot says why there is no result.
func (w *words) couldNot(err error) {
	var missing *expression.MissingError
	switch {
	case errors.As(err, &missing) && missing.OfBike && missing.Path == "bike":
		w.add(notDeclared)
	case errors.As(err, &missing):
		w.add(missing.Error())
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
		return true, work("Declare the bike and certify it.")
	default:
		return true, work("Declare " + strings.TrimPrefix(missing.Path, "bike.") + ".")
	}
}

// values adds the values of fields: ": bike.tyres.front.width_mm is 25".
func (w *words) values(told []string) {
	if len(told) > 0 {
		w.add(": ")
		w.add(strings.Join(told, ", "))
	}
}
