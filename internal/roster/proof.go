package roster

import (
	"context"

	"gritward/internal/placement"
	"gritward/internal/placement/proof"
	pb "gritward/proto/gritward/v1"
)

// checkLimit is how much of a proof is checked, in cases times riders times groups: a second or two. A count and not a time,
// so that every machine does the same. The proof for a club of 200 in eight groups has some ten cases; only for a thousand
// riders with too few places are there tens of thousands, and then the proof goes unchecked.
const checkLimit = 50_000_000

// verify has a checker that shares no code with the search go through the proof of its answer, and notes what it found. It
// takes about as long as the search. The error is that of the context.
func verify(ctx context.Context, asked placement.Problem, result placement.Result, placed *pb.Placement, limit int) error {
	if result.Infeasible && !result.Proven {
		return nil // the search met its limit before it found anything to prove
	}
	certificate, err := placement.Certify(ctx, asked, result)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	placed.Checked = certificate.Size()*len(asked.Riders)*len(asked.Groups) <= limit
	if err == nil && placed.Checked {
		err = proof.Check(asked, result, certificate)
	}
	if err != nil { // the roster is of use all the same, but nobody is told that it is the best
		placed.Checked, placed.Doubt = false, err.Error()
		return nil
	}
	placed.Proven = result.Proven
	if bound := result.Bound; !result.Proven {
		placed.Bound = &pb.PlacementBound{Placed: int32(bound.Placed), Discomfort: int32(bound.Discomfort),
			PreferencesMet: int32(bound.PreferencesMet), Moves: int32(bound.Moves)}
	}
	return nil
}
