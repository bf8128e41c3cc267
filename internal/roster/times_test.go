package roster_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/pace"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// issued is an issue with a group of five, planned from 10:30 for two hours of riding and a stop of 40 minutes.
func issued() *pb.Roster {
	group := &pb.RosterGroup{Group: "steady"}
	for i := range 5 {
		group.Rows = append(group.Rows, &pb.Row{Left: &pb.Rider{Member: fmt.Sprintf("clubs/c/members/m%d", i)}})
	}
	return &pb.Roster{
		Name: "clubs/c/rides/r/rosters/2",
		Ride: &pb.Ride{Name: "clubs/c/rides/r", Title: "Becks", StartAt: timestamppb.New(at("10:30")),
			Stops: []*pb.Stop{{Title: "Barn", Minutes: 40}}},
		Plan:      &pb.RidePlan{Groups: []*pb.GroupPlan{{Group: "steady", PaceKmh: 24, StartAt: timestamppb.New(at("10:30")), RidingMin: 120}}},
		Placement: &pb.Placement{Groups: []*pb.RosterGroup{group}},
	}
}

// marked is the mark of a rider, received so many minutes after the ride.
func marked(rider int, what pb.Mark_What, clock string, received int) *pb.Mark {
	return &pb.Mark{Name: markName(rider, what, clock), Member: fmt.Sprintf("clubs/c/members/m%d", rider), What: what, At: timestamppb.New(at(clock)),
		ReceivedAt: timestamppb.New(at("18:00").Add(time.Duration(received) * time.Minute))}
}

func markName(rider int, what pb.Mark_What, clock string) string {
	return fmt.Sprintf("clubs/c/rides/r/marks/%d-%d-%s", rider, what, strings.ReplaceAll(clock, ":", "-"))
}

// struck is home with the riders' marks of that time struck.
func struck(marks []*pb.Mark, clock string) []*pb.Mark {
	for rider := range len(marks) {
		strike := marked(rider, pb.Mark_STRIKE, "19:05", 5)
		_, strike.Strikes, _ = strings.Cut(markName(rider, pb.Mark_HOME, clock), "/marks/")
		marks = append(marks, strike)
	}
	return marks
}

// inGroup is the mark of a rider counted in a group.
func inGroup(rider int, group, clock string) *pb.Mark {
	mark := marked(rider, pb.Mark_IN_GROUP, clock, 0)
	mark.Group = group
	return mark
}

func TestRecordedTimes(t *testing.T) {
	home := func(clocks ...string) (marks []*pb.Mark) {
		for i, clock := range clocks {
			marks = append(marks, marked(i, pb.Mark_HOME, clock, 0))
		}
		return marks
	}
	other := marked(9, pb.Mark_HOME, "13:16", 0)
	other.Group = "steady"
	elsewhere := marked(2, pb.Mark_HOME, "13:16", 0)
	elsewhere.Group = "brisk"
	for _, c := range []struct {
		name  string
		marks []*pb.Mark
		want  string
	}{
		{"nobody", nil, "none"},
		{"two riders", home("13:10", "13:11"), "none"},
		{"home before the start", home("10:10", "10:11", "10:12"), "none"},
		{"home sooner than the stop is long", home("11:05", "11:05", "11:05"), "none"},
		{"all together", home("13:20", "13:20", "13:20", "13:20", "13:20"), "130 of 120 from 10:30 to 13:20, 5 riders 13:20 13:20"},
		{"one rode home alone, an hour early", home("12:20", "13:20", "13:21", "13:22", "13:20"), "130 of 120 from 10:30 to 13:20, 5 riders 12:20 13:22"},
		{"an even number", home("13:18", "13:20", "13:24", "13:30"), "132 of 120 from 10:30 to 13:22, 4 riders 13:18 13:30"},
		{"one turned back, and was home later", append(home("13:20", "13:20", "13:20", "15:00"), marked(3, pb.Mark_TURNED_BACK, "11:40", 0)),
			"130 of 120 from 10:30 to 13:20, 3 riders 13:20 13:20"},
		{"turned back by mistake, then counted in", append(home("13:20", "13:20", "13:20", "13:21"), marked(3, pb.Mark_TURNED_BACK, "11:40", 0),
			marked(3, pb.Mark_IN_GROUP, "11:50", 0)), "130 of 120 from 10:30 to 13:20, 4 riders 13:20 13:21"},
		{"one changed to another group on the way", append(home("13:20", "13:20", "13:20", "15:00"), inGroup(3, "easy", "11:50")),
			"130 of 120 from 10:30 to 13:20, 3 riders 13:20 13:20"},
		{"one changed there after the group had set off", append(home("13:20", "13:20", "13:20", "15:00"), inGroup(3, "easy", "11:50"),
			marked(3, pb.Mark_SET_OFF, "10:40", 0)), "120 of 120 from 10:40 marked to 13:20, 3 riders 13:20 13:20"},
		{"one changed there and back", append(home("13:20", "13:20", "13:20", "13:24"), inGroup(3, "easy", "11:50"), inGroup(3, "steady", "12:50")),
			"130 of 120 from 10:30 to 13:20, 4 riders 13:20 13:24"},
		{"did not come, and is home", append(home("13:20", "13:20", "13:20", "10:40"), marked(3, pb.Mark_NO_SHOW, "10:31", 0)),
			"130 of 120 from 10:30 to 13:20, 3 riders 13:20 13:20"},
		{"set right later", append(struck(home("19:00", "19:00", "19:00"), "19:00"), marked(0, pb.Mark_HOME, "13:20", 5), marked(1, pb.Mark_HOME, "13:20", 5),
			marked(2, pb.Mark_HOME, "13:20", 5)), "130 of 120 from 10:30 to 13:20, 3 riders 13:20 13:20"},
		{"set off late", append(home("13:20", "13:20", "13:20"), marked(4, pb.Mark_SET_OFF, "10:45", 0)),
			"115 of 120 from 10:45 marked to 13:20, 3 riders 13:20 13:20"},
		{"with a rider of another group", append(home("13:10", "13:12"), other), "122 of 120 from 10:30 to 13:12, 3 riders 13:10 13:16"},
		{"one rode with another group", append(home("13:10", "13:12"), elsewhere), "none"},
		{"a rider without a place", append(home("13:10", "13:12"), marked(9, pb.Mark_HOME, "13:16", 0)), "none"},
	} {
		t.Run(c.name, func(t *testing.T) {
			ok, missing := roster.RecordedTimes(issued(), c.marks, london(t))
			if len(ok)+len(missing) != 1 {
				t.Fatalf("%v and %v: want one group", ok, missing)
			}
			if got := timeWords(ok); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func timeWords(recorded []*pb.RecordedTime) string {
	if len(recorded) == 0 {
		return "none"
	}
	one, clock := recorded[0], func(at *timestamppb.Timestamp) string { return at.AsTime().Format("15:04") }
	start := clock(one.StartAt)
	if one.StartMarked {
		start += " marked"
	}
	return fmt.Sprintf("%g of %g from %s to %s, %d riders %s %s", one.TookMin, one.PlannedMin, start, clock(one.HomeAt),
		one.RidersHome, clock(one.FirstHomeAt), clock(one.LastHomeAt))
}

// The comparison is with the plan by pace alone, also where the plan was already reckoned with past rides: else a
// factor, once found, would hide what it was found from.
func TestRecordedTimesCompareWithPaceAlone(t *testing.T) {
	issue := issued()
	issue.Plan.Groups[0].PastTimes = &pb.PastTimes{Used: true, TimeFactor: 1.1, ByPaceMin: 120}
	issue.Plan.Groups[0].RidingMin = 132
	var marks []*pb.Mark
	for i := range 3 {
		marks = append(marks, marked(i, pb.Mark_HOME, "13:22", 0))
	}
	if ok, _ := roster.RecordedTimes(issue, marks, london(t)); len(ok) != 1 || ok[0].PlannedMin != 120 || ok[0].TookMin != 132 {
		t.Errorf("%v", ok)
	}
}

// One arbitrary HOME mark among five moves the group's time by no more than the others are apart.
func TestOneMarkDoesNotPull(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var marks []*pb.Mark
		for i := range 5 {
			marks = append(marks, marked(i, pb.Mark_HOME, "13:20", 0))
			marks[i].At = timestamppb.New(at("13:00").Add(time.Duration(rapid.IntRange(0, 1800).Draw(t, "home")) * time.Second))
		}
		low, high := at("23:00"), at("00:00")
		for _, mark := range marks[1:] {
			if mark.At.AsTime().Before(low) {
				low = mark.At.AsTime()
			}
			if mark.At.AsTime().After(high) {
				high = mark.At.AsTime()
			}
		}
		marks[0].At = timestamppb.New(at("00:00").Add(time.Duration(rapid.IntRange(0, 86400).Draw(t, "alone")) * time.Second))
		ok, _ := roster.RecordedTimes(issued(), rapid.Permutation(marks).Draw(t, "order"), time.UTC)
		if got := ok[0].HomeAt.AsTime(); got.Before(low) || got.After(high) {
			t.Fatalf("home at %s, the others from %s to %s", got, low, high)
		}
	})
}

// took makes recorded times of the easy group, a week apart, latest first.
func took(factors ...float64) []*pb.RecordedTime {
	var past []*pb.RecordedTime
	for i, factor := range factors {
		start := at("10:30").AddDate(0, 0, -7*(i+1))
		past = append(past, &pb.RecordedTime{Ride: fmt.Sprintf("clubs/c/rides/r%d", i), Group: "easy", Day: start.Format(time.DateOnly),
			PaceKmh: 18, StartAt: timestamppb.New(start), PlannedMin: 200, TookMin: 200 * factor})
	}
	return past
}

// easy plans the easy group of the becks after such past rides.
func easy(t *testing.T, past []*pb.RecordedTime, said pb.PaceReckoning_Recorded) *pb.GroupPlan {
	t.Helper()
	line, ride := becks(t)
	ride.RecordedTimes = said
	planned, err := roster.Plan(ride, line, winter(t), london(t), past)
	if err != nil {
		t.Fatal(err)
	}
	return planned.Groups[2]
}

func TestPastTimes(t *testing.T) {
	const asPolicy, use, show = pb.PaceReckoning_RECORDED_UNSPECIFIED, pb.PaceReckoning_USE, pb.PaceReckoning_SHOW
	other := took(1.04, 1.04, 1.04, 1.04, 1.04, 1.04)
	other[0].Group, other[1].PaceKmh = "brisk", 20.1
	today := took(1.04, 1.04, 1.04, 1.04, 1.04)
	today[0].Day = "2026-12-13"
	faster := took(1.04, 1.04, 1.04, 1.04, 1.04)
	for _, one := range faster {
		one.PaceKmh = 20
	}
	for _, c := range []struct {
		name   string
		past   []*pb.RecordedTime
		said   pb.PaceReckoning_Recorded
		used   bool
		factor float64
		words  string
	}{
		{"none, and asked for", nil, use, false, 1, "not enough rides recorded: 0 of 5"},
		{"too few", took(1.04, 1.04), use, false, 1, "not enough rides recorded: 2 of 5"},
		{"enough, as the policy says", took(1.04, 1.04, 1.04, 1.04, 1.04), asPolicy, true, 1.04, "5 rides since 8 Nov: 4 % slower than planned"},
		{"enough, but switched off", took(1.04, 1.04, 1.04, 1.04, 1.04), show, false, 1.04, "5 rides since 8 Nov: 4 % slower than planned"},
		{"quicker", took(0.97, 0.97, 0.97, 0.97, 0.97, 0.97), use, true, 0.97, "6 rides since 1 Nov: 3 % quicker than planned"},
		{"as planned", took(1, 1.001, 1.002, 0.999, 1), use, true, 1, "5 rides since 8 Nov: as planned"},
		{"far slower", took(1.4, 1.4, 1.4, 1.4, 1.4), use, true, 1.25, "5 rides since 8 Nov: 40 % slower than planned, reckoned as 25 %, the most allowed"},
		{"another group, another pace", other, use, false, 1, "not enough rides recorded: 4 of 5"},
		{"a pace near enough", faster, use, true, 1.04, "5 rides since 8 Nov: 4 % slower than planned"},
		{"one of the same day", today, use, false, 1, "not enough rides recorded: 4 of 5"},
	} {
		t.Run(c.name, func(t *testing.T) {
			plain, got := easy(t, nil, show), easy(t, c.past, c.said)
			past := got.PastTimes
			if past == nil || past.Used != c.used || math.Abs(past.TimeFactor-c.factor) > 0.002 || past.Words != c.words {
				t.Fatalf("past times %v", past)
			}
			if plain.PastTimes != nil || math.Abs(past.ByPaceMin-plain.RidingMin) > 1e-9 || !proto.Equal(past.ByPaceHomeAt, plain.HomeAt) {
				t.Errorf("by pace alone %g min, plain %g min", past.ByPaceMin, plain.RidingMin)
			}
			want, home := past.ByPaceMin, past.ByPaceHomeAt
			if c.used {
				want, home = past.RefinedMin, past.RefinedHomeAt
			}
			if got.RidingMin != want || !proto.Equal(got.HomeAt, home) {
				t.Errorf("the plan rides %g min and is home at %s; want %g, %s", got.RidingMin, got.HomeAt.AsTime(), want, home.AsTime())
			}
			if c.factor >= 1 && math.Abs(past.RefinedMin-past.TimeFactor*past.ByPaceMin) > 1e-6 {
				t.Errorf("refined %g min, by pace %g", past.RefinedMin, past.ByPaceMin)
			}
		})
	}
}

// TestPastTimesCanBeFoundAgain: an issue holds all that its time factor was found from.
func TestPastTimesCanBeFoundAgain(t *testing.T) {
	planned := easy(t, took(1.02, 1.05, 1.9, 1.03, 1.04, 1.08), pb.PaceReckoning_USE)
	var rides []pace.PastRide
	for _, one := range planned.PastTimes.RestsOn {
		rides = append(rides, pace.PastRide{Start: one.StartAt.AsTime(),
			Planned: time.Duration(one.PlannedMin * float64(time.Minute)), Took: time.Duration(one.TookMin * float64(time.Minute))})
	}
	if again := pace.Refine(rides, planned.StartAt.AsTime()); again.TimeFactor != planned.PastTimes.TimeFactor || again.Found != planned.PastTimes.FoundFactor {
		t.Errorf("found again %g, the plan has %g", again.TimeFactor, planned.PastTimes.TimeFactor)
	}
}

// A recorded time that the plan is reckoned with is part of what a placement rests on; one that is only shown is not.
func TestBasisHasPastTimes(t *testing.T) {
	basis := func(said pb.PaceReckoning_Recorded, factor float64) string {
		line, ride := becks(t)
		ride.RecordedTimes = said
		planned, err := roster.Plan(ride, line, winter(t), london(t), took(factor, factor, factor, factor, factor))
		if err != nil {
			t.Fatal(err)
		}
		sum, err := roster.Basis(roster.Input{Ride: ride, Plan: planned, Policy: winter(t)})
		if err != nil {
			t.Fatal(err)
		}
		return sum
	}
	if basis(pb.PaceReckoning_USE, 1.04) == basis(pb.PaceReckoning_USE, 1.05) {
		t.Error("other times, same basis")
	}
	if basis(pb.PaceReckoning_SHOW, 1.04) != basis(pb.PaceReckoning_SHOW, 1.05) {
		t.Error("times that are only shown change the basis")
	}
}

// Words for people hold no doubled space and no figure that is no number.
func TestPastTimesWords(t *testing.T) {
	line, ride := becks(t)
	ride.Groups, ride.RecordedTimes = ride.Groups[2:], pb.PaceReckoning_USE
	line.LatDeg, line.LonDeg, line.ElevM = line.LatDeg[:40], line.LonDeg[:40], line.ElevM[:40]
	ride.Stops = nil
	by, zone := winter(t), london(t)
	rapid.Check(t, func(rt *rapid.T) {
		past := took(rapid.SliceOfN(rapid.Float64Range(0.01, 50), 0, 70).Draw(rt, "factors")...)
		planned, err := roster.Plan(ride, line, by, zone, past)
		if err != nil {
			rt.Fatal(err)
		}
		words := planned.Groups[0].PastTimes.Words
		if strings.Contains(words, "  ") || strings.Contains(words, "NaN") || strings.Contains(words, "-") {
			rt.Fatal(words)
		}
	})
}
