package rollcall_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// TestStates: the later mark by its own time decides, not the one that came later.
func TestStates(t *testing.T) {
	at := func(minute int, what pb.Mark_What) *pb.Mark {
		return &pb.Mark{Name: what.String(), Member: "ada", What: what, At: timestamppb.New(time.Unix(int64(minute)*60, 0))}
	}
	for name, c := range map[string]struct {
		marks []*pb.Mark
		want  pb.RiderRoll_State
	}{
		"none":                        {nil, pb.RiderRoll_NOT_SEEN},
		"the bike is there":           {[]*pb.Mark{at(1, pb.Mark_LOOKED_OVER)}, pb.RiderRoll_SIGNED_ON},
		"looked over on the way":      {[]*pb.Mark{at(1, pb.Mark_IN_GROUP), at(2, pb.Mark_LOOKED_OVER)}, pb.RiderRoll_OUT},
		"home, told first":            {[]*pb.Mark{at(9, pb.Mark_HOME), at(1, pb.Mark_SIGNED_ON)}, pb.RiderRoll_HOME},
		"in the group later":          {[]*pb.Mark{at(5, pb.Mark_HOME), at(6, pb.Mark_IN_GROUP)}, pb.RiderRoll_OUT},
		"turned back and not home":    {[]*pb.Mark{at(5, pb.Mark_TURNED_BACK)}, pb.RiderRoll_TURNED_BACK},
		"handed over":                 {[]*pb.Mark{at(6, pb.Mark_HANDED_OVER), at(5, pb.Mark_TURNED_BACK)}, pb.RiderRoll_HANDED_OVER},
		"not there, then there":       {[]*pb.Mark{at(1, pb.Mark_NO_SHOW), at(2, pb.Mark_SIGNED_ON)}, pb.RiderRoll_SIGNED_ON},
		"not there, but the bike was": {[]*pb.Mark{at(1, pb.Mark_NO_SHOW), at(2, pb.Mark_LOOKED_OVER)}, pb.RiderRoll_SIGNED_ON},
	} {
		rolls := rollcall.Riders([]string{"ada"}, c.marks)
		if len(rolls) != 1 || rolls[0].State != c.want {
			t.Errorf("%s: %v", name, rolls)
		}
	}
}
