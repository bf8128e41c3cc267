package season_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/season"
	pb "gritward/proto/gritward/v1"
)

const club = "clubs/fenwick"

var now = time.Date(2027, 1, 15, 12, 0, 0, 0, time.UTC)

// records are those of a season: what a store would have.
type records struct {
	outings []season.Outing
	issues  [][]*pb.Roster
	ridden  []season.Ridden
}

func member(i int) string { return fmt.Sprintf("%s/members/m%d", club, i) }

// drawn draws a season of rides between 1 October 2026 and 28 February 2027.
func drawn(t *rapid.T) *records {
	all := &records{}
	for n := range rapid.IntRange(0, 12).Draw(t, "rides") {
		start := time.Date(2026, 10, 1, 10, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 150).Draw(t, "day"))
		ride := &pb.Ride{Name: fmt.Sprintf("%s/rides/r%d", club, n), Title: "Ride", StartLocal: start.Format("2006-01-02T15:04"), StartAt: timestamppb.New(start),
			Route: &pb.RouteSummary{DistanceM: 60000}, State: rapid.SampledFrom([]pb.Ride_State{pb.Ride_OPEN, pb.Ride_CLOSED, pb.Ride_CALLED_OFF}).Draw(t, "state")}
		over := ride.State == pb.Ride_CLOSED || !now.Before(start.Truncate(24*time.Hour).AddDate(0, 0, 2))
		outing := season.Outing{Ride: ride, Over: over, Notices: rapid.IntRange(0, 2).Draw(t, "notices"), Incidents: rapid.IntRange(0, 2).Draw(t, "incidents")}
		for i := range rapid.IntRange(0, 8).Draw(t, "signups") {
			outing.Signups = append(outing.Signups, &pb.Signup{Member: member(i), DisplayName: fmt.Sprint("M", i),
				State: pb.Signup_State(rapid.IntRange(1, 3).Draw(t, "signed"))})
			roll := &pb.RiderRoll{Member: member(i), DisplayName: fmt.Sprint("M", i), State: pb.RiderRoll_State(rapid.IntRange(1, 7).Draw(t, "roll"))}
			roll.Rode = roll.State == pb.RiderRoll_HOME && rapid.Bool().Draw(t, "rode")
			outing.Riders = append(outing.Riders, roll)
			if roll.Rode {
				all.ridden = append(all.ridden, season.Ridden{Bike: member(i) + "/bikes/b", Title: "b", Owner: fmt.Sprint("M", i), Ride: &pb.RiddenRide{
					Ride: ride.Name, Day: start.Format(time.DateOnly), Km: float64(rapid.IntRange(20, 120).Draw(t, "km")), Wet: rapid.Bool().Draw(t, "wet")}})
			}
		}
		var issues []*pb.Roster
		for k := range rapid.IntRange(0, 2).Draw(t, "issues") {
			issues = append(issues, issue(t, int32(k+1)))
		}
		outing.Issues = func(visit func(*pb.Roster) error) error {
			for _, one := range issues {
				if err := visit(one); err != nil {
					return err
				}
			}
			return nil
		}
		if len(issues) > 0 && rapid.Bool().Draw(t, "timed") {
			outing.Times = []*pb.RecordedTime{{Group: "a", PlannedMin: 200, TookMin: float64(rapid.IntRange(150, 300).Draw(t, "took"))}}
		}
		all.outings, all.issues = append(all.outings, outing), append(all.issues, issues)
	}
	return all
}

// issue draws a roster of two groups.
func issue(t *rapid.T, number int32) *pb.Roster {
	placement := &pb.Placement{Wishes: int32(rapid.IntRange(0, 5).Draw(t, "wishes"))}
	placement.PreferencesMet = placement.Wishes / 2
	findings := func(standing pb.Standing) (all []*pb.Finding) {
		if standing > pb.Standing_CLEAR {
			all = append(all, &pb.Finding{Rule: "lights", Standing: standing, Remedy: fmt.Sprintf("fit a lamp for %d min", rapid.IntRange(60, 300).Draw(t, "min"))})
		}
		return all
	}
	for _, id := range []string{"a", "b"} {
		group := &pb.RosterGroup{Group: id, Title: id, Plan: &pb.GroupPlan{MarginMin: proto.Float64(float64(rapid.IntRange(-30, 200).Draw(t, "margin")))}}
		if rapid.Bool().Draw(t, "wetroad") {
			group.Plan.Circumstances = []pb.Circumstance{pb.Circumstance_WET}
		}
		for range rapid.IntRange(1, 3).Draw(t, "rows") {
			standing := pb.Standing(rapid.IntRange(1, 3).Draw(t, "standing"))
			group.Rows = append(group.Rows, &pb.Row{Left: &pb.Rider{Standing: standing, Findings: findings(standing)}})
			placement.Placed++
		}
		placement.Groups = append(placement.Groups, group)
	}
	if rapid.Bool().Draw(t, "held") {
		placement.Unplaced = append(placement.Unplaced, &pb.Unplaced{Findings: findings(pb.Standing_HELD)})
	}
	return &pb.Roster{Number: number, Placement: placement}
}

// report reckons the rides of the records that lie in a span.
func (all *records) report(t fataler, from, to string) *pb.SeasonReport {
	t.Helper()
	r := season.Begin(season.Span{Club: &pb.Club{Name: club, Title: "Fenwick", Zone: "Europe/London"}, From: from, To: to, Now: now, Names: true})
	for _, outing := range all.outings {
		if day := outing.Ride.StartLocal[:10]; day < from || day > to {
			continue
		}
		if err := r.Add(outing); err != nil {
			t.Fatalf("%v", err)
		}
	}
	for _, one := range all.ridden {
		if one.Ride.Day >= from && one.Ride.Day <= to {
			r.Rode(one)
		}
	}
	return r.End()
}

type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

// TestHalvesAddUp: the sums of two halves of a season are those of the whole; only different people do not add up.
func TestHalvesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := drawn(t)
		cut := time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 149).Draw(t, "cut"))
		whole := all.report(t, "2026-10-01", "2027-02-28")
		first, second := all.report(t, "2026-10-01", cut.Format(time.DateOnly)), all.report(t, cut.AddDate(0, 0, 1).Format(time.DateOnly), "2027-02-28")
		want := proto.CloneOf(first.Totals)
		add(want, second.Totals)
		if whole.Totals.Riders < max(first.Totals.Riders, second.Totals.Riders) || whole.Totals.Riders > want.Riders {
			t.Fatalf("%d different people, in the halves %d and %d", whole.Totals.Riders, first.Totals.Riders, second.Totals.Riders)
		}
		want.Riders = whole.Totals.Riders
		if diff := cmp.Diff(want, whole.Totals, protocmp.Transform()); diff != "" {
			t.Fatalf("halves against the whole:\n%s", diff)
		}
		if diff := cmp.Diff(append(first.Rides, second.Rides...), whole.Rides, protocmp.Transform()); len(whole.Rides) > 0 && diff != "" {
			t.Fatalf("rides:\n%s", diff)
		}
		for _, one := range whole.Bikes {
			km := 0.0
			for _, half := range []*pb.SeasonReport{first, second} {
				for _, bike := range half.Bikes {
					if bike.Bike == one.Bike {
						km += bike.Km
					}
				}
			}
			if km != one.Km { // whole kilometres
				t.Fatalf("%s: %g km, in the halves %g", one.Bike, one.Km, km)
			}
		}
	})
}

// add sums every number of two totals, whatever they are.
func add(to, more proto.Message) {
	a, b := to.ProtoReflect(), more.ProtoReflect()
	fields := a.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		switch {
		case field.Message() != nil:
			add(a.Mutable(field).Message().Interface(), b.Get(field).Message().Interface())
		case field.Kind().String() == "int32":
			a.Set(field, protoreflect.ValueOfInt32(int32(a.Get(field).Int()+b.Get(field).Int())))
		default:
			a.Set(field, protoreflect.ValueOfFloat64(a.Get(field).Float()+b.Get(field).Float()))
		}
	}
}

// TestAgainstRecords counts the same from the raw records in another way: number by number, over all of them at once.
func TestAgainstRecords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := drawn(t)
		got := all.report(t, "2026-10-01", "2027-02-28").Totals
		count := func(want func(i int, o season.Outing) int) (n int32) {
			for i, o := range all.outings {
				n += int32(want(i, o))
			}
			return n
		}
		out := []pb.RiderRoll_State{pb.RiderRoll_OUT, pb.RiderRoll_TURNED_BACK, pb.RiderRoll_HOME, pb.RiderRoll_HANDED_OVER}
		rode := func(o season.Outing) (n int) {
			for _, state := range out {
				for _, roll := range o.Riders {
					if roll.State == state {
						n++
					}
				}
			}
			return n
		}
		people, km := map[string]bool{}, 0.0
		for _, o := range all.outings {
			for _, roll := range o.Riders {
				if slices.Contains(out, roll.State) {
					people[roll.Member] = true
				}
			}
		}
		for _, one := range all.ridden {
			km += one.Ride.Km
		}
		called := count(func(_ int, o season.Outing) int { return one(o.Ride.State == pb.Ride_CALLED_OFF) })
		ended := func(o season.Outing) bool {
			return o.Over || rode(o) > 0 && !slices.ContainsFunc(o.Riders, func(roll *pb.RiderRoll) bool {
				return !slices.Contains([]pb.RiderRoll_State{pb.RiderRoll_HOME, pb.RiderRoll_HANDED_OVER, pb.RiderRoll_DID_NOT_COME}, roll.State)
			})
		}
		held := count(func(_ int, o season.Outing) int {
			return one(o.Ride.State != pb.Ride_CALLED_OFF && rode(o) > 0 && ended(o))
		})
		for what, pair := range map[string][2]int32{
			"rides":               {got.Rides, int32(len(all.outings))},
			"called off":          {got.CalledOff, called},
			"held":                {got.Held, held},
			"outcomes":            {got.Held + got.CalledOff + got.NotRecorded + got.ToCome + got.UnderWay, got.Rides},
			"rode":                {got.Rode, count(func(_ int, o season.Outing) int { return rode(o) })},
			"people":              {got.Riders, int32(len(people))},
			"bike rides":          {got.BikeRides, int32(len(all.ridden))},
			"km":                  {int32(got.Km), int32(km)},
			"issues":              {got.Issues, count(func(i int, _ season.Outing) int { return len(all.issues[i]) })},
			"signups":             {got.Signups + got.Withdrawn, count(func(_ int, o season.Outing) int { return len(o.Signups) })},
			"placed and standing": {got.Standings.Clear + got.Standings.Advised + got.Standings.Back, got.Placed},
			"incidents":           {got.Incidents, count(func(_ int, o season.Outing) int { return o.Incidents })},
			"notices":             {got.OverdueNotices, count(func(_ int, o season.Outing) int { return o.Notices })},
			"remedies":            {got.Remedies, got.Standings.Advised + got.Standings.Back + got.Standings.Held},
		} {
			if pair[0] != pair[1] {
				t.Fatalf("%s: reckoned %d, counted %d", what, pair[0], pair[1])
			}
		}
	})
}

func one(is bool) int {
	if is {
		return 1
	}
	return 0
}

// TestEmpty: a span without rides has nothing, and misses nothing.
func TestEmpty(t *testing.T) {
	got := (&records{}).report(t, "2026-10-01", "2026-10-31")
	want := &pb.SeasonReport{Club: club, ClubTitle: "Fenwick", Zone: "Europe/London", From: "2026-10-01", To: "2026-10-31", MadeAt: timestamppb.New(now),
		NamesTold: true, Totals: &pb.SeasonTotals{Standings: &pb.StandingCount{}}}
	if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
		t.Error(diff)
	}
}

// TestChain: what is measured in the span counts, first and last; a new chain counts between measurements.
func TestChain(t *testing.T) {
	entry := func(work pb.CareEntry_Work, on string, pct float64) *pb.CareEntry {
		made := &pb.CareEntry{Work: work, DoneOn: on}
		if work == pb.CareEntry_CHAIN_MEASURED {
			made.WearPct = proto.Float64(pct)
		}
		return made
	}
	measured, renewed := pb.CareEntry_CHAIN_MEASURED, pb.CareEntry_CHAIN_RENEWED
	for name, c := range map[string]struct {
		log  []*pb.CareEntry
		want string
	}{
		"nothing":      {nil, "0  0  false"},
		"once":         {[]*pb.CareEntry{entry(measured, "2026-11-01", .2)}, "0.2 2026-11-01 0  false"},
		"before":       {[]*pb.CareEntry{entry(measured, "2026-09-30", .1), entry(measured, "2026-11-01", .2)}, "0.2 2026-11-01 0  false"},
		"twice":        {[]*pb.CareEntry{entry(measured, "2026-11-01", .2), entry(measured, "2026-12-01", .4)}, "0.2 2026-11-01 0.4 2026-12-01 false"},
		"new between":  {[]*pb.CareEntry{entry(measured, "2026-11-01", .5), entry(renewed, "2026-11-02", 0), entry(measured, "2026-12-01", .1)}, "0.5 2026-11-01 0.1 2026-12-01 true"},
		"new at first": {[]*pb.CareEntry{entry(renewed, "2026-10-02", 0), entry(measured, "2026-11-01", .1), entry(measured, "2026-12-01", .2)}, "0.1 2026-11-01 0.2 2026-12-01 false"},
		"new at last":  {[]*pb.CareEntry{entry(measured, "2026-11-01", .1), entry(measured, "2026-12-01", .2), entry(renewed, "2026-12-02", 0)}, "0.1 2026-11-01 0.2 2026-12-01 false"},
	} {
		r := season.Begin(season.Span{Club: &pb.Club{}, From: "2026-10-01", To: "2026-12-31", Now: now, Names: true})
		r.Rode(season.Ridden{Bike: "b", Ride: &pb.RiddenRide{Km: 60}})
		r.Care("b", c.log)
		b := r.End().Bikes[0]
		if got := fmt.Sprintf("%g %s %g %s %t", b.GetChainFirstPct(), b.ChainFirstOn, b.GetChainLastPct(), b.ChainLastOn, b.ChainReplaced); got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

// TestRemedies: the same work with other numbers is the same work.
func TestRemedies(t *testing.T) {
	r := season.Begin(season.Span{Club: &pb.Club{}, Now: now})
	var unplaced []*pb.Unplaced
	for _, words := range []string{"charge it: 205 min", "charge it: 1.5 min", "charge it: 1,205 min", "fit 28 mm, 30 mm.", "wash it", "charge it: min"} {
		unplaced = append(unplaced, &pb.Unplaced{Findings: []*pb.Finding{{Rule: "x", Standing: pb.Standing_BACK, Remedy: words}}})
	}
	err := r.Add(season.Outing{Ride: &pb.Ride{}, Issues: func(visit func(*pb.Roster) error) error {
		return visit(&pb.Roster{Placement: &pb.Placement{Unplaced: unplaced}})
	}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, one := range r.End().Remedies {
		got = append(got, fmt.Sprint(one.Times, " ", one.Remedy))
	}
	want := []string{"3 charge it: … min", "1 charge it: min", "1 fit … mm, … mm.", "1 wash it"}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}
