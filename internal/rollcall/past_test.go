package rollcall_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// TestPast: a ride is past when it is closed, or ten hours after its start.
func TestPast(t *testing.T) {
	start := time.Date(2026, 12, 13, 10, 30, 0, 0, time.UTC)
	for _, c := range []struct {
		state pb.Ride_State
		after time.Duration
		want  bool
	}{{pb.Ride_OPEN, -time.Hour, false}, {pb.Ride_OPEN, 10 * time.Hour, false}, {pb.Ride_OPEN, 10*time.Hour + 1, true}, {pb.Ride_CLOSED, -time.Hour, true}} {
		if got := rollcall.Past(&pb.Ride{State: c.state, StartAt: timestamppb.New(start)}, start.Add(c.after)); got != c.want {
			t.Errorf("%s, %s after its start: %v", c.state, c.after, got)
		}
	}
}
