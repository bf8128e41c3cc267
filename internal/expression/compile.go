package expression

import (
	"fmt"
	"unicode/utf8"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/types"
)

// MaxLength is the most characters of an expression, as in the protocol.
const MaxLength = 2000

// maxIssues is how many issues of one expression are told.
const maxIssues = 10

// Issue is one thing wrong with an expression.
type Issue struct {
	// Line and Column of the text, each from 1, in characters.
	Line, Column int
	// Message says what is wrong, Hint what to do about it.
	Message, Hint string
}

// Program is a compiled expression. It never changes, and may be used by many at once.
type Program struct {
	env      *environment
	ast      *cel.Ast
	program  cel.Program
	paths    map[int64]string // what the text calls the fields that it reads, by node
	facing   map[int64]string // what a bike file calls them
	text     string           // see InFile
	facts    []fact           // the fields read of bike and group themselves
	lists    []list           // the lists read, with the lengths that the bound on the cost holds for
	readBike bool
}

// Compile reads an expression. It checks the types and the cost, too: a program that comes of it gives true, false or an
// error, in bounded time. The program is nil when there are issues, in order of their place.
func Compile(text string) (*Program, []Issue) {
	if n := utf8.RuneCountInString(text); n > MaxLength {
		return nil, []Issue{{1, 1, fmt.Sprintf("the expression is too long: %d characters, at most %d", n, MaxLength),
			"write several rules, each with a part of it"}}
	}
	if !utf8.ValidString(text) {
		return nil, []Issue{{1, 1, "the expression is not UTF-8", "write it anew"}}
	}
	env, err := shared()
	if err != nil {
		return nil, []Issue{fault(err)}
	}
	checked, issues := env.check(text)
	if len(issues) > 0 {
		return nil, issues
	}
	return env.plan(checked, text)
}

// check parses the text and finds its types. Numbers are widened where that makes them fit.
func (e *environment) check(text string) (*cel.Ast, []Issue) {
	parsed, bad := e.cel.Parse(text)
	if bad.Err() != nil {
		return nil, syntaxIssues(text, bad.Errors())
	}
	widenLists(parsed.NativeRep().Expr())
	for {
		checked, bad := e.cel.Check(parsed)
		if bad.Err() == nil {
			return checked, nil
		}
		if !widen(parsed.NativeRep(), bad.Errors()) {
			return nil, e.typeIssues(text, parsed, bad.Errors())
		}
	}
}

// plan refuses what the types allow but a rule should not do, bounds the cost, and makes the program.
func (e *environment) plan(checked *cel.Ast, text string) (*Program, []Issue) {
	p := &Program{env: e, ast: checked, paths: map[int64]string{}, facing: map[int64]string{}, text: text}
	if issues := p.look(); len(issues) > 0 {
		return nil, issues
	}
	if out := checked.OutputType(); !out.IsExactType(types.BoolType) {
		return nil, []Issue{{1, 1, "the expression gives " + kindWord(out.String()) + "; a rule needs true or false",
			"compare it with something, for example with >="}}
	}
	estimate, err := e.cel.EstimateCost(checked, sizes{})
	if err != nil {
		return nil, []Issue{fault(err)}
	}
	if estimate.Max > MaxCost {
		return nil, []Issue{{1, 1, "the expression could take too long" + times(estimate.Max),
			"use fewer loops in one another (exists, all, filter, map), or split the rule"}}
	}
	if p.program, err = e.cel.Program(checked, cel.EvalOptions(cel.OptOptimize)); err != nil {
		return nil, []Issue{fault(err)}
	}
	return p, nil
}

// times says by how much a bound is beyond the limit.
func times(cost uint64) string {
	if cost > 1_000_000*MaxCost {
		return ": its cost has no bound that can be known"
	}
	return fmt.Sprintf(": its cost could come to %d, at most %d", cost, MaxCost)
}

// fault is an issue with the program rather than with the text.
func fault(err error) Issue {
	return Issue{1, 1, "the expression cannot be used: " + err.Error(), "say it in another way"}
}
