package expression

import (
	"strings"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"
)

// noOverload begins the message of a call whose operands have the wrong types.
const noOverload = "found no matching overload for "

// widen turns whole numbers written beside decimals into decimals, in the calls whose operands do not fit, and tells
// whether it changed anything. Each pass takes away at least one whole number, so that passes come to an end.
func widen(parsed *ast.AST, errors []*cel.Error) bool {
	faulty := map[int64]bool{}
	for _, err := range errors {
		if strings.HasPrefix(err.Message, noOverload) && strings.Contains(err.Message, "double") {
			faulty[err.ExprID] = true
		}
	}
	changed := false
	ast.PostOrderVisit(parsed.Expr(), ast.NewExprVisitor(func(e ast.Expr) {
		if e.Kind() != ast.CallKind || !faulty[e.ID()] {
			return
		}
		switch e.AsCall().FunctionName() {
		case operators.Add, operators.Subtract, operators.Multiply, operators.Divide, operators.Equals, operators.NotEquals,
			operators.In, operators.Conditional:
			for _, arg := range e.AsCall().Args() {
				changed = toDecimal(arg) || changed
			}
		}
	}))
	return changed
}

// toDecimal turns a whole number, a list of them, or a sum made of them into decimals. 7 / 2 is then 3.5.
func toDecimal(e ast.Expr) bool {
	changed := false
	switch e.Kind() {
	case ast.LiteralKind:
		if n, ok := e.AsLiteral().(types.Int); ok {
			e.SetKindCase(ast.NewExprFactory().NewLiteral(e.ID(), types.Double(n)))
			return true
		}
	case ast.ListKind:
		for _, element := range e.AsList().Elements() {
			changed = toDecimal(element) || changed
		}
	case ast.CallKind:
		switch e.AsCall().FunctionName() {
		case operators.Add, operators.Subtract, operators.Multiply, operators.Divide, operators.Negate, operators.Conditional:
			for _, arg := range e.AsCall().Args() {
				changed = toDecimal(arg) || changed
			}
		}
	}
	return changed
}

// widenLists turns whole numbers into decimals in lists that hold a decimal.
func widenLists(root ast.Expr) {
	ast.PostOrderVisit(root, ast.NewExprVisitor(func(e ast.Expr) {
		if e.Kind() != ast.ListKind {
			return
		}
		for _, element := range e.AsList().Elements() {
			if element.Kind() == ast.LiteralKind && element.AsLiteral().Type() == types.DoubleType {
				toDecimal(e)
				return
			}
		}
	}))
}
