package expression

import (
	"cel.dev/cel-go/cel"

	pb "gritward/proto/gritward/v1"
)

// Bound is the greatest cost that an evaluation within the limits is said to have.
func (p *Program) Bound() uint64 {
	estimate, err := p.env.cel.EstimateCost(p.ast, sizes{})
	if err != nil {
		panic(err)
	}
	return estimate.Max
}

// Cost is what an evaluation cost.
func (p *Program) Cost(facts *pb.BikeFacts, group *pb.GroupPlan) uint64 {
	counting, err := p.env.cel.Program(p.ast, cel.EvalOptions(cel.OptTrackCost))
	if err != nil {
		panic(err)
	}
	_, details, _ := counting.Eval(&inputs{facts, group})
	return *details.ActualCost()
}
