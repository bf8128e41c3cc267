package cli_test

import (
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/cli"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// TestMarksOfAWholeGroup: whom a mark is about that names a group and nobody in it.
func TestMarksOfAWholeGroup(t *testing.T) {
	start := time.Date(2026, 12, 13, 10, 30, 0, 0, time.UTC)
	basis := &pb.RollBasis{Ride: fakeRide, StartAt: timestamppb.New(start), Groups: []string{"steady", "easy"}, Riders: []*pb.Expected{
		{Member: "ana", Group: "steady"}, {Member: "ben", Group: "steady"}, {Member: "cleo", Group: "steady"}, {Member: "dora", Group: "easy"}}}
	of := func(member string, what pb.Mark_What) *pb.Mark {
		return &pb.Mark{Name: fakeRide + "/marks/" + member, Member: member, What: what, At: timestamppb.New(start.Add(-10 * time.Minute))}
	}
	lookedOver, setOff := of("ana", pb.Mark_LOOKED_OVER), of("ana", pb.Mark_SET_OFF)
	home, signedOn := of("ben", pb.Mark_HOME), of("ben", pb.Mark_SIGNED_ON)
	for _, tt := range []struct {
		name  string
		marks []*pb.Mark
		what  pb.Mark_What
		want  []string
	}{
		{"nobody seen, signed on", nil, pb.Mark_SIGNED_ON, []string{"ana", "ben", "cleo"}},
		{"one bike looked over first, signed on", []*pb.Mark{lookedOver}, pb.Mark_SIGNED_ON, []string{"ana", "ben", "cleo"}},
		{"who has set off is not signed on again", []*pb.Mark{setOff, home}, pb.Mark_SIGNED_ON, []string{"cleo"}},
		{"who was seen did come", []*pb.Mark{lookedOver, signedOn}, pb.Mark_NO_SHOW, []string{"cleo"}},
		{"who was never seen is not home", []*pb.Mark{lookedOver, signedOn}, pb.Mark_HOME, []string{"ana", "ben"}},
		{"no roll call at the start, home", nil, pb.Mark_HOME, []string{"ana", "ben", "cleo"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := cli.WithGroup(rollcall.Call(basis, tt.marks, start), "steady", tt.what)
			if slices.Sort(got); !slices.Equal(got, tt.want) {
				t.Errorf("marked %v, want %v", got, tt.want)
			}
		})
	}
}
