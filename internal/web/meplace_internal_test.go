package web

import (
	"testing"

	pb "gritward/proto/gritward/v1"
)

// TestLiftsAlike: what lifts a bike in several groups is told once, with the groups that it concerns.
func TestLiftsAlike(t *testing.T) {
	ride := &pb.Ride{Groups: []*pb.Group{{Id: "brisk", Title: "Brisk"}, {Id: "steady", Title: "Steady"}, {Id: "easy", Title: "Easy"}}}
	lamp := func(group, title string, standing pb.Standing) *pb.Lift {
		return &pb.Lift{Group: group, Standing: standing, Ways: []*pb.LiftWay{{Reaches: pb.Standing_CLEAR, Words: "Charge the lamp, and the bike rides anywhere in " + title + ".",
			Steps: []*pb.LiftStep{{Rule: "rear-light", Remedy: "charge the lamp"}}}}}
	}
	got := liftsIn(ride, []*pb.Lift{lamp("brisk", "Brisk", pb.Standing_BACK), lamp("steady", "Steady", pb.Standing_BACK), lamp("easy", "Easy", pb.Standing_HELD)}, nil)
	if len(got) != 2 || got[0].Groups != "Brisk, Steady" || got[0].Ways[0].Words != "Charge the lamp." ||
		got[1].Groups != "Easy" || got[1].Ways[0].Words != "Charge the lamp, and the bike rides anywhere in Easy." {
		t.Errorf("%+v", got)
	}
}
