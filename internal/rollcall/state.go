package rollcall

import (
	"cmp"
	"slices"

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

// Riders tells how the roll call stands with each of these riders, clubs/{club}/members/{member}, and with everybody else
// who is marked, in the order of their names.
func Riders(riders []string, marks []*pb.Mark) []*pb.RiderRoll {
	marked := merge(marks)
	for _, rider := range riders {
		if marked[rider] == nil {
			marked[rider] = []*pb.Mark{} // nobody has seen the rider
		}
	}
	var rolls []*pb.RiderRoll
	for member, own := range marked {
		rolls = append(rolls, riderRoll(member, own))
	}
	slices.SortFunc(rolls, func(a, b *pb.RiderRoll) int { return cmp.Compare(a.Member, b.Member) })
	return rolls
}

// riderRoll tells how it stands with a rider whose marks are in order.
func riderRoll(member string, marks []*pb.Mark) *pb.RiderRoll {
	roll := &pb.RiderRoll{Member: member, State: pb.RiderRoll_NOT_SEEN}
	for _, mark := range marks {
		roll.Last = mark
		if state, ok := after[mark.GetWhat()]; ok {
			roll.State = state
		} else if roll.State == pb.RiderRoll_NOT_SEEN || roll.State == pb.RiderRoll_DID_NOT_COME {
			roll.State = pb.RiderRoll_SIGNED_ON // whose bike was looked over was there
		}
	}
	roll.Accounted = accounted(roll.State)
	return roll
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
	pb.RiderRoll_TURNED_BACK:  "turned back",
	pb.RiderRoll_HOME:         "home",
	pb.RiderRoll_HANDED_OVER:  "handed over",
	pb.RiderRoll_DID_NOT_COME: "did not come",
}
