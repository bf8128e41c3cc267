package brief

import (
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// calledOff is the first line of the brief of a ride that is called off. The issue that says so is published by whoever
// called the ride off.
func (t *teller) calledOff() string {
	by := t.r.GetPublishedBy()
	name := t.names[by]
	if name == "" && by != "" && by == t.r.GetRide().GetLeader() {
		name = t.r.GetLeaderName()
	}
	reason := phrase.FirstOf(phrase.Bare(t.r.GetRide().GetCallOffReason()), "no reason is given")
	return "CALLED OFF" + phrase.Between(" by ", name, "") + ": " + reason + ". Do not go."
}

func (t *teller) isCalledOff() bool { return t.r.GetRide().GetState() == pb.Ride_CALLED_OFF }
