package rollcall

import (
	"fmt"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// doubts tells what does not fit together about a rider, whose marks count and are in order. signing tells that riders of
// this ride were signed on at all: a club that marks only who is home is not told of everybody.
func doubts(roll *pb.RiderRoll, marks []*pb.Mark, signing bool, watch phrase.Watch) (said []string) {
	if !roll.Placed {
		said = append(said, "has no place on this ride")
	}
	if len(marks) == 0 {
		return said
	}
	state, before, signed := pb.RiderRoll_NOT_SEEN, (*pb.Mark)(nil), false
	for _, mark := range marks {
		to := next(state, mark.GetWhat())
		if before != nil && contrary(state, to) {
			said = append(said, fmt.Sprintf("%s at %s, but %s at %s", since(state), watch.Time(At(before)), since(to), watch.Time(At(mark))))
		}
		signed = signed || mark.GetWhat() == pb.Mark_SIGNED_ON || mark.GetWhat() == pb.Mark_LOOKED_OVER
		state, before = to, mark
	}
	if signing && !signed && state != pb.RiderRoll_DID_NOT_COME {
		said = append(said, "never signed on")
	}
	if ahead := roll.GetLast().GetClockAhead(); ahead != nil {
		said = append(said, "the last mark is from a device whose clock was "+wrongness(ahead.AsDuration())+"; its time is corrected")
	}
	return said
}

// since is the word for a state that a mark at a time led to: nobody fails to come at a time.
func since(state pb.RiderRoll_State) string {
	if state == pb.RiderRoll_DID_NOT_COME {
		return "marked as not come"
	}
	return Word(state)
}

// contrary tells whether one state cannot be followed by another without one of the marks being wrong.
func contrary(from, to pb.RiderRoll_State) bool {
	return from != to && (accounted(from) || to == pb.RiderRoll_DID_NOT_COME && from != pb.RiderRoll_NOT_SEEN)
}

// wrongness says how wrong a clock was: "72 min fast".
func wrongness(ahead time.Duration) string {
	if ahead < 0 {
		return phrase.Span((-ahead).Minutes()) + " slow"
	}
	return phrase.Span(ahead.Minutes()) + " fast"
}

// closed folds the closings of a ride: whether it is closed, which groups are, and whose being out was known then.
func closed(closings []*pb.Closing) (ride bool, groups map[string]bool, known map[string]bool) {
	groups, known = map[string]bool{}, map[string]bool{}
	for _, closing := range closings {
		switch {
		case closing.GetReopened():
			ride, groups, known = false, map[string]bool{}, map[string]bool{}
			continue
		case closing.GetGroup() == "":
			ride = true
		default:
			groups[closing.GetGroup()] = true
		}
		for _, member := range closing.GetOpen() {
			known[member] = true
		}
	}
	return ride, groups, known
}
