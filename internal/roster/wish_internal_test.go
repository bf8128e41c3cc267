package roster

import (
	"strings"
	"testing"

	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// Where the search ended early nothing is said of a group that only a search to the end shows.
func TestUnsureWords(t *testing.T) {
	best := placement.Objective{Placed: 10, Discomfort: 5}
	worse, better := placement.Objective{Placed: 9}, placement.Objective{Placed: 11}
	tests := []struct {
		name   string
		proven bool
		option placement.Option
		want   string
		costs  bool
	}{
		{"both proven", true, placement.Option{Possible: true, Proven: true, Objective: worse}, "1 rider fewer would have a place", true},
		{"as good", true, placement.Option{Possible: true, Proven: true, Objective: best}, "just as good", true},
		{"ruled out", true, placement.Option{Proven: true}, noWay, false},
		{"the answer is not proven", false, placement.Option{Possible: true, Proven: true, Objective: worse}, "no better placement with the rider there is known", false},
		{"the option is not", true, placement.Option{Possible: true, Objective: worse}, "no better placement with the rider there is known", false},
		{"nothing was found", true, placement.Option{}, "no better placement with the rider there is known", false},
		{"something better was found", false, placement.Option{Possible: true, Objective: better}, "might serve the riders better", false},
	}
	for _, tt := range tests {
		plan := &pb.GroupPlan{Group: "g"}
		s := &seating{
			in:       Input{Ride: &pb.Ride{}, Plan: &pb.RidePlan{Groups: []*pb.GroupPlan{plan}}},
			entrants: map[string]Entrant{"@a": {Member: &pb.Member{}, Signup: &pb.Signup{}}},
			stands:   map[string][]pb.Standing{"@a": {pb.Standing_CLEAR}},
		}
		e := &explainer{teller: teller{seating: s}, id: "@a", result: placement.Result{Objective: best, Proven: tt.proven}}
		one := e.option(plan, tt.option)
		if !strings.HasPrefix(one.Words, tt.want) || (one.Cost != nil) != tt.costs {
			t.Errorf("%s: %q, cost %v; want %q", tt.name, one.Words, one.Cost, tt.want)
		}
	}
	if yes, no := bestWords(0, true), bestWords(0, false); !strings.Contains(yes, "served best") || !strings.Contains(no, "is not known") {
		t.Errorf("%q, %q", yes, no)
	}
}
