package roster

import (
	"context"

	"gritward/internal/placement"
	"gritward/internal/placement/proof"
	pb "gritward/proto/gritward/v1"
)

// verify has a checker that shares no code with the search go through the proof of its answer, and notes what it found. It
// takes about as long as the search. The error is that of the context.
func verify(ctx context.Context, asked placement.Problem, result placement.Result, placed *pb.Placement) error {
	if result.Infeasible && !result.Proven {
		return nil // the search met its limit before it found anything to prove
	}
	certificate, err := placement.Certify(ctx, asked, result)
	if ctx.Err() != nil {
		return err
	}
	if err == nil {
		err = proof.Check(asked, result, certificate)
	}
	if err != nil { // the roster is of use all the same, but nobody is told that it is the best
		placed.Doubt = err.Error()
		return nil
	}
	placed.Checked, placed.Proven = true, result.Proven
	if bound := result.Bound; !result.Proven {
		placed.Bound = &pb.PlacementBound{Placed: int32(bound.Placed), Discomfort: int32(bound.Discomfort),
			PreferencesMet: int32(bound.PreferencesMet), Moves: int32(bound.Moves)}
	}
	return nil
}
