package render_test

import (
	"strings"
	"testing"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// TestWhatAGroupWouldCost: why a rider rides elsewhere is told by the first thing that counts, in words of riders.
func TestWhatAGroupWouldCost(t *testing.T) {
	for _, c := range []struct {
		cost *pb.PlacementCost
		want string
	}{
		{&pb.PlacementCost{Unplaced: 1, Discomfort: -7}, "1 rider more without a place"},
		{&pb.PlacementCost{Discomfort: 37, Wishes: -1}, "the paces would suit the riders worse as a whole"},
		{&pb.PlacementCost{Discomfort: -37}, "the paces would suit the riders better as a whole"},
		{&pb.PlacementCost{Wishes: 2}, "2 wishes fewer met"},
		{&pb.PlacementCost{Moves: 1}, "1 rider more moved from the last issue"},
	} {
		var b strings.Builder
		why := &pb.Explanation{DisplayName: "Hetty Marlock", Title: "Steady", Options: []*pb.GroupOption{
			{Title: "Easy", Verdict: pb.GroupOption_WORSE, Words: "too slow by 2.0 km/h", Cost: c.cost}}}
		if err := render.ExplanationText(&b, why, render.TextOptions{Width: 100}); err != nil {
			t.Fatal(err)
		}
		if want := "With the rider there: " + c.want + ".\n"; !strings.Contains(b.String(), want) || strings.Contains(b.String(), "discomfort") {
			t.Errorf("%v is told as\n%s", c.cost, b.String())
		}
	}
}
