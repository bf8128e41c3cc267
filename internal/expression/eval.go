package expression

import (
	"errors"
	"fmt"
	"slices"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/interpreter"

	pb "gritward/proto/gritward/v1"
)

// ErrCost is the error of an evaluation that was stopped because it cost more than MaxCost.
var ErrCost = errors.New("it took too long and was stopped")

// MissingError is the error of an expression whose result hangs on a value that is not there.
type MissingError struct {
	// Path is what the expression calls it: "bike.tyres.front.width_mm", or "runtime_min of one of bike.lights". Just
	// "bike" where nothing at all was declared.
	Path string
	// Fact is what a bike file calls it: "tyres.front.width", or "runtime of one of lights".
	Fact string
	// OfBike tells that it is a fact that was not declared; else it is something of the group's plan that is not known.
	OfBike bool
}

func (e *MissingError) Error() string {
	if e.OfBike {
		return e.Path + " is not declared"
	}
	return e.Path + " is not known"
}

// Eval tells whether the expression is true of the bike in the group. The facts are nil where nothing was declared. The
// group is nil on a day without a ride, when no circumstance holds and nothing is known.
//
// On an error the expression is neither true nor false. It is a *MissingError, ErrCost, or says in words what went
// wrong: a division by zero, an index that is not there, a text that is no date.
func (p *Program) Eval(facts *pb.BikeFacts, group *pb.GroupPlan) (bool, error) {
	if facts == nil && p.readBike {
		return false, &MissingError{Path: "bike", OfBike: true}
	}
	program := p.program
	if p.beyond(facts, group) {
		limited, err := p.env.cel.Program(p.ast, cel.CostLimit(MaxCost))
		if err != nil {
			return false, err
		}
		program = limited
	}
	result, _, err := program.Eval(&inputs{facts, group})
	if err != nil {
		return false, p.explain(err)
	}
	met, ok := result.(types.Bool)
	if !ok {
		return false, fmt.Errorf("it gave %v, neither true nor false", result)
	}
	return bool(met), nil
}

// beyond tells whether a list that the expression reads is longer than the bound on its cost holds for. Such data do not
// pass the protocol's limits; they are evaluated with the cost counted, which takes half as long again.
func (p *Program) beyond(facts *pb.BikeFacts, group *pb.GroupPlan) bool {
	for _, l := range p.lists {
		m := facts.ProtoReflect()
		if l.root == "group" {
			m = group.ProtoReflect()
		}
		if m.Get(l.field).List().Len() > l.most {
			return true
		}
	}
	return false
}

// explain turns an error of the language's into one of this package.
func (p *Program) explain(err error) error {
	var missing *unset
	var stopped interpreter.EvalCancelledError
	switch {
	case errors.As(err, &missing):
		path, fact := string(missing.field.Name()), fileKey(missing.field)
		var labelled *types.Err
		if errors.As(err, &labelled) && p.paths[labelled.NodeID()] != "" {
			path, fact = p.paths[labelled.NodeID()], p.facing[labelled.NodeID()]
		}
		return &MissingError{Path: path, Fact: fact, OfBike: missing.ofBike}
	case errors.As(err, &stopped):
		return ErrCost
	default:
		return err
	}
}

// inputs gives the values of the variables.
type inputs struct {
	facts *pb.BikeFacts
	group *pb.GroupPlan
}

// Parent is nil: there are no variables beyond these.
func (in *inputs) Parent() cel.Activation { return nil }

// ResolveName gives the value of a variable.
func (in *inputs) ResolveName(name string) (any, bool) {
	switch name {
	case "bike":
		return in.facts.ProtoReflect(), true
	case "group":
		return in.group.ProtoReflect(), true
	}
	c, ok := circumstance(name)
	return types.Bool(slices.Contains(in.group.GetCircumstances(), c)), ok
}
