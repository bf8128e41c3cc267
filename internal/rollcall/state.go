package rollcall

import (
	"time"

	pb "gritward/proto/gritward/v1"
)

// after is the state in which a mark leaves a rider. LOOKED_OVER is not in it: it is about the bike.
var after = map[pb.Mark_What]pb.RiderRoll_State{
	pb.Mark_SIGNED_ON:   pb.RiderRoll_SIGNED_ON,
	pb.Mark_SET_OFF:     pb.RiderRoll_OUT,
	pb.Mark_IN_GROUP:    pb.RiderRoll_OUT,
	pb.Mark_TURNED_BACK: pb.RiderRoll_TURNED_BACK,
	pb.Mark_HOME:        pb.RiderRoll_HOME,
	pb.Mark_HANDED_OVER: pb.RiderRoll_HANDED_OVER,
	pb.Mark_NO_SHOW:     pb.RiderRoll_DID_NOT_COME,
}

// next is the state of a rider after one more mark.
func next(state pb.RiderRoll_State, what pb.Mark_What) pb.RiderRoll_State {
	if led, ok := after[what]; ok {
		return led
	}
	if what == pb.Mark_LOOKED_OVER && (state == pb.RiderRoll_NOT_SEEN || state == pb.RiderRoll_DID_NOT_COME) {
		return pb.RiderRoll_SIGNED_ON // whose bike was looked over was there
	}
	return state
}

// follow sets what a rider's marks, which count and are in order, say: state, last mark, group, and whether the rider rode
// home with a group.
func follow(roll *pb.RiderRoll, marks []*pb.Mark) {
	roll.State = pb.RiderRoll_NOT_SEEN
	left := false
	for _, mark := range marks {
		roll.Last, roll.State = mark, next(roll.State, mark.GetWhat())
		switch mark.GetWhat() {
		case pb.Mark_TURNED_BACK, pb.Mark_NO_SHOW:
			left = true
		case pb.Mark_SIGNED_ON, pb.Mark_SET_OFF, pb.Mark_IN_GROUP:
			left = false
		}
		if mark.GetGroup() != "" {
			roll.Group = mark.GetGroup()
		}
	}
	roll.Rode = roll.State == pb.RiderRoll_HOME && !left
}

// setOffs tells when each group set off: the first mark that says so of a rider, in the group that the rider had then.
func setOffs(marks []*pb.Mark, rostered map[string]string) map[string]time.Time {
	groups, off := map[string]string{}, map[string]time.Time{}
	for _, mark := range marks {
		group, named := groups[mark.GetMember()]
		if !named {
			group = rostered[mark.GetMember()]
		}
		if mark.GetGroup() != "" {
			group = mark.GetGroup()
		}
		groups[mark.GetMember()] = group
		if _, ok := off[group]; mark.GetWhat() == pb.Mark_SET_OFF && group != "" && !ok {
			off[group] = At(mark)
		}
	}
	return off
}

// accounted tells whether nobody need look for a rider any more.
func accounted(state pb.RiderRoll_State) bool {
	return state == pb.RiderRoll_HOME || state == pb.RiderRoll_HANDED_OVER || state == pb.RiderRoll_DID_NOT_COME
}

// Word says in words where a rider is: "Ada is turned back".
func Word(state pb.RiderRoll_State) string { return words[state] }

var words = map[pb.RiderRoll_State]string{
	pb.RiderRoll_NOT_SEEN:     "not seen yet",
	pb.RiderRoll_SIGNED_ON:    "signed on",
	pb.RiderRoll_OUT:          "out with the group",
	pb.RiderRoll_TURNED_BACK:  "turned back, and not known to be home",
	pb.RiderRoll_HOME:         "home",
	pb.RiderRoll_HANDED_OVER:  "handed over",
	pb.RiderRoll_DID_NOT_COME: "did not come",
}
