package readiness

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	pb "gritward/proto/gritward/v1"
)

// TestContextUsedAgain: days that a context knows from the use before are those that a new one works out, whatever the zone, the
// time of judging and the start, the first of all times among them.
func TestContextUsedAgain(t *testing.T) {
	zones := []*time.Location{time.UTC, time.FixedZone("west", -11*3600), time.FixedZone("east", 13*3600)}
	times := []time.Time{{}, time.Unix(0, 0), time.Date(2026, 12, 13, 0, 30, 0, 0, time.UTC), time.Date(2026, 12, 13, 23, 30, 0, 0, time.UTC)}
	used := new(context)
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.SampledFrom(times).Draw(t, "at").In(rapid.SampledFrom(zones).Draw(t, "zone"))
		var group *pb.GroupPlan
		if rapid.Bool().Draw(t, "ride") {
			group = &pb.GroupPlan{StartAt: timestamppb.New(rapid.SampledFrom(times).Draw(t, "start")),
				SeasonFrom: rapid.SampledFrom([]string{"", "2026-10-01", "2026-11-01"}).Draw(t, "season")}
		}
		used.set(&Book{}, &Subject{}, group, at)
		fresh := newContext(&Book{}, &Subject{}, group, at)
		if used.today != fresh.today || used.startDay != fresh.startDay || used.seasonFrom != fresh.seasonFrom ||
			!used.at.Equal(fresh.at) || used.at.Location() != fresh.at.Location() || !used.startAt.Equal(fresh.startAt) {
			t.Fatalf("used again %+v, new %+v", used, fresh)
		}
	})
}
