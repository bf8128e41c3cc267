package server_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

func (w *world) season(as, from, to string) (*pb.SeasonReport, error) {
	return w.seasons.GetSeasonReport(w.as(as), &pb.GetSeasonReportRequest{Parent: club, From: from, To: to})
}

// TestSeasonReport plays a Sunday: Ben home, Ada turned back, an incident; and looks at it as secretary and as leader.
func TestSeasonReport(t *testing.T) {
	w, ride := incidentWorld(t)
	if err := w.mark("lea", ride.Name, "off", "ben", pb.Mark_SIGNED_ON, 10, 20); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(sunday13(10, 45))
	at, err := w.season("sec", "2026-12-01", "2026-12-31") // still at its start
	if err != nil || at.Totals.Held+at.Totals.NotRecorded != 0 || at.Totals.UnderWay != 1 || at.Rides[0].Outcome != pb.SeasonRide_UNDER_WAY ||
		len(at.Missing) != 1 || !strings.Contains(at.Missing[0], "1 ride has begun and not ended") {
		t.Errorf("at the start: %v: %s", at, told(err))
	}
	w.setClock(sunday13(18, 0))
	for i, m := range []struct {
		who  string
		what pb.Mark_What
		hour int
	}{{"ben", pb.Mark_SET_OFF, 10}, {"ada", pb.Mark_SET_OFF, 10}, {"ada", pb.Mark_TURNED_BACK, 12}, {"ben", pb.Mark_HOME, 16}, {"ada", pb.Mark_HOME, 17}} {
		if err := w.mark("lea", ride.Name, fmt.Sprint("m", i), m.who, m.what, m.hour, 40); err != nil {
			t.Fatal(told(err))
		}
	}
	if _, err := w.recordIncident("lea", ride.Name, fell()); err != nil {
		t.Fatal(told(err))
	}
	got, err := w.season("sec", "2026-12-01", "2026-12-31")
	if err != nil {
		t.Fatal(told(err))
	}
	sum := got.Totals
	if sum.Held != 1 || sum.Rode != 2 || sum.Home != 1 || sum.TurnedBack != 1 || sum.BikeRides != 1 || sum.Incidents != 1 || sum.Signups != 2 || sum.Issues != 1 ||
		fmt.Sprintf("%.1f", sum.Km) != "77.9" { // the length that the route file gives by hand: see internal/route
		t.Errorf("sums: %v", sum)
	}
	if len(got.Riders) != 2 || len(got.Bikes) != 1 || got.Bikes[0].DisplayName != "Ben" {
		t.Errorf("named: %v %v", got.Riders, got.Bikes)
	}
	leaders, err := w.season("lea", "2026-12-01", "2026-12-31")
	if err != nil || leaders.NamesTold || strings.Contains(leaders.String(), "members/") {
		t.Errorf("a leader is told of members: %v %s", leaders, told(err))
	}
	if _, err := w.season("ben", "2026-12-01", "2026-12-31"); !strings.HasPrefix(told(err), "PermissionDenied") {
		t.Errorf("a member: %s", told(err))
	}
	for span, want := range map[[2]string]string{
		{"2026-12-14", "2026-12-31"}: "no error", {"2026-12-31", "2026-12-01"}: "to: is before the first day", {"2017-01-01", "2026-12-31"}: "no error",
		{"2016-12-31", "2026-12-31"}: "to: makes more than 10 years", {"2026-02-30", "2026-12-31"}: "from: ", {"", "x"}: "from: ",
	} {
		got, err := w.season("sec", span[0], span[1])
		if !strings.Contains(told(err), want) || err == nil && span[0] == "2026-12-14" && got.Totals.Rides != 0 {
			t.Errorf("%v: %s, %v", span, told(err), got.GetTotals())
		}
	}
}

// TestSeasonDisbelieves: a time that says nothing about the group's pace is no more in the report than in its plan.
func TestSeasonDisbelieves(t *testing.T) {
	w := newWorld(t)
	people(w)
	day := time.Date(2026, 12, 13, 19, 0, 0, 0, time.UTC)
	_, issue := w.comingRide(day)
	w.rideHome(issue, 2.1) // over twice the planned time
	_, issue = w.comingRide(day.AddDate(0, 0, 7))
	w.rideHome(issue, 1.1)
	got, err := w.season("sec", "2026-12-01", "2026-12-31")
	if err != nil || got.Totals.TimedGroups != 1 || got.Rides[0].Groups[0].TookMin != nil || got.Rides[1].Groups[0].TookMin == nil ||
		!strings.Contains(strings.Join(got.Missing, "\n"), "The recorded time of 1 group is left out, as in ride times: under 30 min") {
		t.Errorf("%v %v: %s", got.GetTotals(), got.GetMissing(), told(err))
	}
}

// TestChangedBike: a ride counts for the bike that the rider is signed up with, and for that one alone.
func TestChangedBike(t *testing.T) {
	w, ride := incidentWorld(t)
	other := w.declare("ben", bike("other bike", 300))
	w.setClock(sunday13(18, 0))
	if err := w.mark("lea", ride.Name, "h", "ben", pb.Mark_HOME, 16, 40); err != nil {
		t.Fatal(told(err))
	}
	if err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		signup, err := tx.Signup(ride.Name[len(club+"/rides/"):], "ben")
		if err != nil {
			return err
		}
		signup.Bike = other
		return tx.SaveSignup(signup)
	}); err != nil {
		t.Fatal(err)
	}
	if err := w.mark("lea", ride.Name, "h2", "ben", pb.Mark_HOME, 16, 45); err != nil {
		t.Fatal(told(err))
	}
	for name, want := range map[string]string{club + "/members/ben/bikes/bike-1": "0.0", other: "77.9"} {
		got, err := w.bikes.GetBike(w.as("ben"), &pb.GetBikeRequest{Name: name})
		if err != nil || fmt.Sprintf("%.1f", got.RiddenKm) != want {
			t.Errorf("%s: %.1f km, want %s: %s", name, got.GetRiddenKm(), want, told(err))
		}
	}
	report, err := w.season("sec", "2026-12-13", "2026-12-13")
	if err != nil || report.Totals.BikeRides != 1 || len(report.Bikes) != 1 || report.Bikes[0].Title != "other bike" {
		t.Errorf("%v: %s", report, told(err))
	}
}

// manyRides puts rides of 30 riders into the store, with sign-ups, marks and a roster each, by way of the ledger.
func (w *world) manyRides(rides int) {
	w.t.Helper()
	for n := range rides {
		day := time.Date(2018, 1, 1, 10, 0, 0, 0, time.UTC).AddDate(0, 0, 3*n)
		err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
			id := fmt.Sprintf("%s-r", day.Format(time.DateOnly))
			ride := &pb.Ride{Name: club + "/rides/" + id, Title: "R", StartLocal: day.Format("2006-01-02T15:04"), StartAt: timestamppb.New(day), RosterNumber: 1,
				Route: &pb.RouteSummary{DistanceM: 50000}, Groups: []*pb.Group{{Id: "a"}}}
			placement := &pb.Placement{Placed: 30, Groups: []*pb.RosterGroup{{Group: "a", Plan: &pb.GroupPlan{}}}}
			for i := range 30 {
				member := fmt.Sprintf("%s/members/m%02d", club, i)
				if err := tx.SaveSignup(&pb.Signup{Name: fmt.Sprintf("%s/signups/m%02d", ride.Name, i), Member: member, State: pb.Signup_IN}); err != nil {
					return err
				}
				for _, what := range []pb.Mark_What{pb.Mark_SET_OFF, pb.Mark_HOME} {
					if _, _, err := tx.AddMark(&pb.Mark{Name: fmt.Sprintf("%s/marks/m%d-%d", ride.Name, i, what), Member: member, What: what, At: timestamppb.New(day.Add(time.Duration(what) * time.Hour))}); err != nil {
						return err
					}
				}
				placement.Groups[0].Rows = append(placement.Groups[0].Rows, &pb.Row{Left: &pb.Rider{Member: member, Standing: pb.Standing_CLEAR}})
			}
			if err := tx.AddRoster(&pb.Roster{Name: ride.Name + "/rosters/1", Number: 1, Placement: placement}); err != nil {
				return err
			}
			return tx.SaveRide(ride)
		})
		if err != nil {
			w.t.Fatal(err)
		}
	}
}

// TestManyRides: more rides than one report reckons are refused, and fewer days are not.
func TestManyRides(t *testing.T) {
	w := newWorld(t)
	for n := range 1001 {
		day := time.Date(2018, 1, 1, 10, 0, 0, 0, time.UTC).AddDate(0, 0, n)
		if err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
			return tx.SaveRide(&pb.Ride{Name: fmt.Sprintf("%s/rides/%s-r", club, day.Format(time.DateOnly)), StartLocal: day.Format("2006-01-02T15:04"), StartAt: timestamppb.New(day)})
		}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := w.season("sec", "2018-01-01", "2020-12-31"); !strings.Contains(told(err), "to: makes more than 1000 rides") {
		t.Errorf("1,001 rides: %s", told(err))
	}
	got, err := w.season("sec", "2018-01-02", "2020-12-31")
	if err != nil || got.Totals.Rides != 1000 || got.Totals.NotRecorded != 1000 || len(got.Missing) != 1 {
		t.Errorf("%v: %s", got.GetTotals(), told(err))
	}
}

// BenchmarkSeason reckons 1,000 rides of 30 riders, over the wire; the client waits 30 s for an answer.
func BenchmarkSeason(b *testing.B) {
	w := newWorldFor(b)
	w.manyRides(1000)
	for b.Loop() {
		got, err := w.season("sec", "2018-01-01", "2026-12-31")
		if err != nil || got.Totals.Rode != 30_000 {
			b.Fatalf("%v: %s", got.GetTotals(), told(err))
		}
	}
	b.ReportMetric(30/(b.Elapsed().Seconds()/float64(b.N)), "times-faster-than-the-client-waits")
}
