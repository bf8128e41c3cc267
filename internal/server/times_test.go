package server_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

var easyRiders = []string{"ada", "bo", "mia"}

// comingRide creates a ride on a Sunday that the easy riders join, from the Friday before, and publishes it.
func (w *world) comingRide(day time.Time) (*pb.Ride, *pb.Roster) {
	w.t.Helper()
	w.setClock(day.AddDate(0, 0, -2))
	asked := sunday()
	asked.StartLocal = day.Format("2006-01-02") + "T10:30"
	asked.Groups = asked.Groups[1:]
	ride := w.ride("lea", asked)
	for _, id := range easyRiders {
		facts := bike("winter bike", 300)
		if _, err := w.join(id, ride.Name, w.declare(id, facts), nil); err != nil {
			w.t.Fatal(told(err))
		}
	}
	return ride, w.publish("lea", ride.Name)
}

// rideHome marks the riders home so many times the planned riding time after the start.
func (w *world) rideHome(issue *pb.Roster, factor float64) {
	w.t.Helper()
	plan := issue.Plan.Groups[0]
	riding := plan.RidingMin
	if past := plan.PastTimes; past != nil {
		riding = past.ByPaceMin
	}
	home := plan.StartAt.AsTime().Add(time.Duration((riding*factor + 40) * float64(time.Minute)))
	w.setClock(home.Add(time.Hour))
	request := &pb.RecordMarksRequest{Parent: issue.Ride.Name}
	for _, id := range easyRiders {
		request.Marks = append(request.Marks, &pb.Mark{Name: issue.Ride.Name + "/marks/home-" + id, Member: club + "/members/" + id,
			What: pb.Mark_HOME, At: timestamppb.New(home)})
	}
	if _, err := w.rolls.RecordMarks(w.as("lea"), request); err != nil {
		w.t.Fatal(told(err))
	}
}

// TestPastRidesRefineAPlan rides six Sundays, and plans the next one: by the policy with what was recorded, by the
// leader's word without; both are told, and what was published stays.
func TestPastRidesRefineAPlan(t *testing.T) {
	w := newWorld(t)
	people(w)
	day := time.Date(2026, 12, 13, 19, 0, 0, 0, time.UTC)
	var issues []*pb.Roster
	for i, factor := range []float64{1.05, 1.04, 1.06, 1.05, 1.6, 1.05} {
		ride, issue := w.comingRide(day.AddDate(0, 0, 7*i))
		past := issue.Plan.Groups[0].PastTimes
		if past == nil || len(past.RestsOn) != i || past.Used != (i >= 5) {
			t.Fatalf("on Sunday %d the plan rests on %v", i+1, past)
		}
		w.rideHome(issue, factor)
		if now, err := w.rides.PlanRide(w.as("mia"), &pb.PlanRideRequest{Name: ride.Name}); err != nil || len(now.Groups[0].PastTimes.RestsOn) != i {
			t.Errorf("the plan of a past ride changed by its own times: %v %v", now, told(err))
		}
		issues = append(issues, issue)
	}
	ride, issue := w.comingRide(day.AddDate(0, 0, 42))
	group := issue.Plan.Groups[0]
	if past := group.PastTimes; past.Words != "6 rides since 13 Dec 2026: 5 % slower than planned" || !past.Used ||
		group.RidingMin < 1.04*past.ByPaceMin || group.RidingMin > 1.06*past.ByPaceMin {
		t.Errorf("%g min, past times %v", group.RidingMin, past)
	}
	if lines := strings.Join(issue.Brief.Sections[0].Lines, "\n"); !strings.Contains(lines, "That rests on 6 rides since 13 Dec 2026: 5 % slower than planned.") {
		t.Errorf("the brief does not say on what its times rest:\n%s", lines)
	}

	// The leader switches it off; the next issue says so, and the one before stays.
	if _, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{Ride: &pb.Ride{Name: ride.Name, RecordedTimes: pb.PaceReckoning_SHOW},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"recorded_times"}}}); err != nil {
		t.Fatal(told(err))
	}
	off := w.publish("lea", ride.Name)
	plain := off.Plan.Groups[0]
	if plain.PastTimes.Used || plain.RidingMin != group.PastTimes.ByPaceMin || plain.PastTimes.RefinedMin != group.RidingMin {
		t.Errorf("switched off: %g min, past times %v", plain.RidingMin, plain.PastTimes)
	}
	want := "By past rides Easy is now reckoned as planned; it was 5 % slower than planned."
	if changes := strings.Join(off.Changes, "\n"); !strings.Contains(changes, want) {
		t.Errorf("changes %q do not say %q", changes, want)
	}

	// A correction of an old ride leaves what was published as it was.
	w.rideHomeAgain(issues[0], 2)
	first, err := w.rides.GetRoster(w.as("mia"), &pb.GetRosterRequest{Name: issue.Name})
	if err != nil || first.Plan.Groups[0].PastTimes.RestsOn[5].TookMin != group.PastTimes.RestsOn[5].TookMin {
		t.Errorf("a published issue changed: %v", told(err))
	}
	now, err := w.rides.PlanRide(w.as("mia"), &pb.PlanRideRequest{Name: ride.Name})
	if err != nil || now.Groups[0].PastTimes.RestsOn[5].TookMin == group.PastTimes.RestsOn[5].TookMin {
		t.Errorf("the plan still has the old time: %v", told(err))
	}
}

// rideHomeAgain sets the times of a past ride right.
func (w *world) rideHomeAgain(issue *pb.Roster, factor float64) {
	w.t.Helper()
	now := w.clock()
	plan := issue.Plan.Groups[0]
	home := plan.StartAt.AsTime().Add(time.Duration(plan.RidingMin * factor * float64(time.Minute)))
	w.setClock(now.Add(time.Minute))
	for _, id := range easyRiders {
		if _, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: issue.Ride.Name, Marks: []*pb.Mark{
			{Name: issue.Ride.Name + "/marks/not-" + id, Member: club + "/members/" + id, What: pb.Mark_STRIKE, Strikes: "home-" + id},
			{Name: issue.Ride.Name + "/marks/again-" + id, Member: club + "/members/" + id, What: pb.Mark_HOME, At: timestamppb.New(home)}}}); err != nil {
			w.t.Fatal(told(err))
		}
	}
}

// TestRecordedTimesAreTakenBack: a group of three of whom one turned back has no time any more.
func TestRecordedTimesAreTakenBack(t *testing.T) {
	w := newWorld(t)
	people(w)
	_, issue := w.comingRide(time.Date(2026, 12, 13, 19, 0, 0, 0, time.UTC))
	w.rideHome(issue, 1.1)
	list := func(group string) []*pb.RecordedTime {
		got, err := w.rides.ListRecordedTimes(w.as("mia"), &pb.ListRecordedTimesRequest{Parent: club, Group: group})
		if err != nil {
			t.Fatal(told(err))
		}
		return got.Times
	}
	if got := list(""); len(got) != 1 || got[0].RidersHome != 3 || got[0].Roster != issue.Name || got[0].StopsMin != 40 {
		t.Errorf("recorded %v", got)
	}
	if got := list("eas"); len(got) != 0 {
		t.Errorf("of a group whose id only begins the same: %v", got)
	}
	if _, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: issue.Ride.Name, Marks: []*pb.Mark{{
		Name: issue.Ride.Name + "/marks/back", Member: club + "/members/bo", What: pb.Mark_TURNED_BACK}}}); err != nil {
		t.Fatal(told(err))
	}
	if got := list("easy"); len(got) != 0 {
		t.Errorf("still recorded: %v", got)
	}
}

// TestListRecordedTimes pages through the times of two groups.
func TestListRecordedTimes(t *testing.T) {
	w := newWorld(t)
	fill(w, 7)
	var got []string
	for token := ""; ; {
		answer, err := w.rides.ListRecordedTimes(w.as("sec"), &pb.ListRecordedTimesRequest{Parent: club, PageSize: 3, PageToken: token})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, one := range answer.Times {
			got = append(got, one.Group+" "+one.Day)
		}
		if token = answer.NextPageToken; token == "" {
			break
		}
	}
	want := "steady 2026-12-12, steady 2026-12-11, steady 2026-12-10, steady 2026-12-09, steady 2026-12-08, steady 2026-12-07, steady 2026-12-06, " +
		"easy 2026-12-12, easy 2026-12-11, easy 2026-12-10, easy 2026-12-09, easy 2026-12-08, easy 2026-12-07, easy 2026-12-06"
	if s := strings.Join(got, ", "); s != want {
		t.Errorf("got  %s\nwant %s", s, want)
	}
}

// fill writes recorded times of two groups for so many days before 13 December 2026.
func fill(w *world, days int) {
	w.t.Helper()
	err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		for i := range days {
			start := time.Date(2026, 12, 12-i, 10, 30, 0, 0, time.UTC)
			for _, group := range []string{"easy", "steady"} {
				one := &pb.RecordedTime{Ride: fmt.Sprintf("%s/rides/%s-r", club, start.Format(time.DateOnly)), Group: group,
					Day: start.Format(time.DateOnly), PaceKmh: 18, StartAt: timestamppb.New(start), PlannedMin: 200, TookMin: 208}
				if err := tx.SaveRecordedTime(one); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		w.t.Fatal(err)
	}
}

// BenchmarkPlanAfterManyRides holds the plan of a ride after 1,000 past rides against that of one after 60: no more is
// read, however many there are.
func BenchmarkPlanAfterManyRides(b *testing.B) {
	for _, days := range []int{60, 1000} {
		b.Run(fmt.Sprint(days), func(b *testing.B) {
			w := newWorldFor(b)
			w.member("Lea", &pb.Member{PaceMinKmh: 17, PaceMaxKmh: 29, MayLead: true}, pb.Role_LEADER)
			fill(w, days)
			ride := w.ride("lea", sunday())
			for b.Loop() {
				if _, err := w.rides.PlanRide(w.as("lea"), &pb.PlanRideRequest{Name: ride.Name}); err != nil {
					b.Fatal(told(err))
				}
			}
		})
	}
}
