package roster

import (
	"context"
	"errors"
	"testing"

	"gritward/internal/placement"
	"gritward/internal/placement/placementtest"
	pb "gritward/proto/gritward/v1"
)

// A search cut short says by how much it may fall short; an answer that is not
// what the search says it is is doubted.
func TestVerify(t *testing.T) {
	ctx, asked := context.Background(), placementtest.Club(60, 5, 1)
	asked.NodeLimit = 2
	result, err := placement.Solve(ctx, asked)
	if err != nil {
		t.Fatal(err)
	}
	placed := &pb.Placement{}
	if err := verify(ctx, asked, result, placed, checkLimit); err != nil || !placed.Checked || placed.Proven || placed.Bound.GetPlaced() == 0 {
		t.Errorf("error %v, %v", err, placed)
	}
	for name, change := range map[string]func(*placement.Result){
		"said to be proven":  func(r *placement.Result) { r.Proven, r.Bound = true, r.Objective },
		"said to place more": func(r *placement.Result) { r.Objective.Placed++ },
	} {
		wrong, doubted := result, &pb.Placement{}
		change(&wrong)
		if err := verify(ctx, asked, wrong, doubted, checkLimit); err != nil || doubted.Checked || doubted.Proven || doubted.Doubt == "" {
			t.Errorf("%s: error %v, %v", name, err, doubted)
		}
	}
	long := &pb.Placement{}
	if err := verify(ctx, asked, result, long, 10); err != nil || long.Checked || long.Doubt != "" || long.Bound == nil {
		t.Errorf("a proof too long to check: error %v, %v", err, long)
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if err := verify(stopped, asked, result, &pb.Placement{}, checkLimit); !errors.Is(err, context.Canceled) {
		t.Errorf("verified though told to stop: %v", err)
	}
}
