package placement_test

import (
	"context"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// What is told of a rider after trying another who is alike is what brute force finds of the rider, and what is said to
// bind does.
func TestTrials(t *testing.T) {
	shared := 0
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		p.Riders = p.Riders[:min(3, len(p.Riders))]
		for i := range p.Riders {
			p.Riders[i].MustRide = false
			if r := p.Riders[i]; r.Guardian != "" && !riderOf(p, r.Guardian) {
				p.Riders[i].Guardian = ""
			}
		}
		for i := range p.Groups {
			g := &p.Groups[i]
			g.MustRun = false
			if !riderOf(p, g.Leader) {
				g.Leader = ""
			}
			if !riderOf(p, g.BackMarker) {
				g.BackMarker = ""
			}
		}
		for i := range min(2, len(p.Riders)) { // as the first, under another name
			r := p.Riders[0]
			r.ID = fmt.Sprintf("twin%d", i)
			p.Riders = append(p.Riders, r)
		}
		trials, err := placement.NewTrials(p, 1_000)
		if err != nil {
			t.Fatal(err)
		}
		spent, err := placement.NewTrials(p, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range p.Groups {
			for _, r := range p.Riders {
				o, tried, err := trials.Option(context.Background(), r.ID, g.ID)
				if _, more, _ := spent.Option(context.Background(), r.ID, g.ID); more && r.ID != p.Riders[0].ID {
					shared++
				}
				if err != nil || !tried {
					t.Fatalf("tried %v, %v", tried, err)
				}
				if r.Pinned != "" && r.Pinned != g.ID {
					continue
				}
				forced := placement.Forced(p, r.ID, g.ID)
				best, _, found := brute(forced)
				if o.Group != g.ID || o.Possible != found || !o.Proven || found && o.Objective != best {
					t.Fatalf("%s in %s: %+v, brute force: possible %v, %+v", r.ID, g.ID, o, found, best)
				}
				if !found {
					checkBinding(t, forced, r.ID, o)
				}
			}
		}
	})
	if shared == 0 {
		t.Error("no rider shared what was found of another: the test shows less than it should")
	}
}

func riderOf(p placement.Problem, id string) bool {
	for _, r := range p.Riders {
		if r.ID == id {
			return true
		}
	}
	return false
}
