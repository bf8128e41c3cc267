package roster_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// What a late start tells of a group is what a plan for that start tells, and who stands worse is who an assessment for
// it finds worse.
func TestLateAgreesWithPlan(t *testing.T) {
	var riders []roster.Entrant
	for i := range 12 {
		riders = append(riders, entrant(i, []float64{16, 22, 25}[i%3], i%4 == 0, i%3 == 0, []string{"ready", "short"}[i%2]))
	}
	in := input(t, riders)
	in.Line, _ = becks(t)
	told := map[[2]bool]int{} // remedies of who is held in every group or not, that send the rider to another group or not
	for _, by := range []time.Duration{0, 20 * time.Minute, 2 * time.Hour, 4 * time.Hour} {
		ride := later(in.Ride, in.Ride.StartAt.AsTime().Add(by), london(t))
		late, err := roster.Late(context.Background(), in, ride)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := roster.Plan(ride, in.Line, in.Policy, london(t), nil)
		if err != nil {
			t.Fatal(err)
		}
		worse := 0
		for i, group := range late.Groups {
			if group.After.DarkMin != plan.Groups[i].DarkMin || !proto.Equal(group.After.HomeAt, plan.Groups[i].HomeAt) {
				t.Errorf("%v late, %s: %v", by, group.Group, group.After)
			}
			for _, rider := range group.Worse {
				worse++
				at := slices.IndexFunc(riders, func(e roster.Entrant) bool { return e.Member.Name == rider.Member })
				all := roster.Standings(in.Policy.Book(), riders[at].Subject(), plan, in.Now)
				now, stuck := all[i], !slices.ContainsFunc(all, func(one *pb.Assessment) bool { return one.Standing != pb.Standing_HELD })
				for _, finding := range slices.Concat(now.Findings, rider.Findings) {
					elsewhere := strings.Contains(finding.Remedy, "in a group that is home earlier")
					told[[2]bool{stuck, elsewhere}]++
				}
				if now.Standing != rider.After || rider.Before > rider.After || len(rider.Findings) == 0 {
					t.Errorf("%v late: %v, and the plan says %v", by, rider, now.Standing)
				}
			}
		}
		if (by == 0) != (worse == 0 && len(late.Moved) == 0) && by != 20*time.Minute {
			t.Errorf("%v late: %d stand worse, moved %v", by, worse, late.Moved)
		}
	}
	if told[[2]bool{true, true}] > 0 || told[[2]bool{true, false}] == 0 || told[[2]bool{false, true}] == 0 {
		t.Errorf("another group is a way out only where one does not hold the bike: %v", told)
	}
}

// Weather entered for an hour before the late start is the weather at that start.
func TestLatePastAnHour(t *testing.T) {
	in := input(t, []roster.Entrant{entrant(0, 22, true, true, "ready")})
	in.Line, _ = becks(t)
	in.Ride.Conditions = &pb.Conditions{Start: &pb.Weather{TemperatureC: proto.Float64(9)},
		Later: []*pb.HourWeather{{FromLocal: "2026-12-13T11:00", Weather: &pb.Weather{TemperatureC: proto.Float64(-4)}}}}
	plan, err := roster.Plan(later(in.Ride, in.Ride.StartAt.AsTime().Add(time.Hour), london(t)), in.Line, in.Policy, london(t), nil)
	if err != nil || plan.Groups[0].GetTemperatureMinC() != -4 {
		t.Errorf("%v %v", plan.GetGroups(), err)
	}
}

// lateLimit is what a look at a late start may take: riders stand in the cold.
const lateLimit = time.Second

// BenchmarkLate is sixty riders in each of five groups, half of them with lamps that a start two hours late outlasts: by
// the last issue, and before there is one. of-limit is the part of a second that it takes.
func BenchmarkLate(b *testing.B) {
	var riders []roster.Entrant
	for i := range 300 {
		riders = append(riders, entrant(i, []float64{14, 16, 20, 23, 27}[i%5], i%7 == 0, i%4 == 0, []string{"ready", "short"}[i%2]))
		riders[i].Signup.Turn = int32(i)
	}
	in := input(b, riders)
	in.Line, _ = becks(b)
	in.Ride.Groups = append(in.Ride.Groups, &pb.Group{Id: "gentle", PaceKmh: 16}, &pb.Group{Id: "fast", PaceKmh: 30})
	for _, group := range in.Ride.Groups {
		group.MaxSize = 60
	}
	var err error
	if in.Plan, err = roster.Plan(in.Ride, in.Line, in.Policy, london(b), nil); err != nil {
		b.Fatal(err)
	}
	placed, err := roster.Place(context.Background(), in)
	if err != nil || placed.Placed < 200 {
		b.Fatal(placed.GetPlaced(), err)
	}
	late := later(in.Ride, in.Ride.StartAt.AsTime().Add(2*time.Hour), london(b))
	for name, previous := range map[string]*pb.Roster{"by the last issue": {Number: 1, Placement: placed}, "before an issue": nil} {
		b.Run(name, func(b *testing.B) {
			in.Previous = previous
			for b.Loop() {
				told, err := roster.Late(context.Background(), in, late)
				if err != nil || len(told.Groups) != 5 || len(told.Groups[0].Worse) == 0 {
					b.Fatal(told, err)
				}
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/lateLimit.Seconds(), "of-limit")
		})
	}
}
