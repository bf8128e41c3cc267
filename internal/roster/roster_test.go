package roster_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/fault"
	"gritward/internal/policy"
	"gritward/internal/roster"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

var friday = time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC)

func winter(t testing.TB) *policy.Policy {
	t.Helper()
	p, problems := policy.Read("winter.yaml", policyfile.Winter)
	if p == nil {
		t.Fatal(problems)
	}
	return p
}

func london(t testing.TB) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// becks is the route of the demo and a ride on it.
func becks(t testing.TB) (*pb.RouteLine, *pb.Ride) {
	t.Helper()
	gpx, err := os.ReadFile("../demo/four-becks.gpx")
	if err != nil {
		t.Fatal(err)
	}
	line, summary, err := roster.ReadRoute(gpx)
	if err != nil {
		t.Fatal(err)
	}
	return line, &pb.Ride{
		Name: "clubs/c/rides/r", Title: "Four Becks", Leader: "clubs/c/members/m0", StartLocal: "2026-12-13T10:30",
		StartAt:      timestamppb.New(time.Date(2026, 12, 13, 10, 30, 0, 0, time.UTC)),
		MeetingPoint: "The weighbridge", Route: summary, RosterNumber: 1,
		Groups: []*pb.Group{
			{Id: "brisk", Title: "Brisk", PaceKmh: 27},
			{Id: "steady", Title: "Steady", PaceKmh: 23.5},
			{Id: "easy", Title: "Easy", PaceKmh: 18},
		},
		Stops: []*pb.Stop{{Title: "Barn", AtDistanceM: 36500, Minutes: 40}},
	}
}

func plan(t testing.TB, change func(*pb.Ride)) *pb.RidePlan {
	t.Helper()
	line, ride := becks(t)
	if change != nil {
		change(ride)
	}
	planned, err := roster.Plan(ride, line, winter(t), london(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	return planned
}

// TestPlan holds a plan together: times grow with slowness, stops are kept, light is whole, and the sun is that of the
// almanac.
func TestPlan(t *testing.T) {
	planned := plan(t, nil)
	// Sunrise and sunset at Settle, North Yorkshire, near the route's start, lie within a minute or two of those of
	// Leeds in published tables: 13 Dec 08:16 and 15:45 (from memory).
	if got := planned.SunsetAt.AsTime(); got.Before(at("15:42")) || got.After(at("15:50")) {
		t.Errorf("sunset %s", got)
	}
	before := planned.Groups[0].StartAt.AsTime()
	for _, group := range planned.Groups {
		home := group.HomeAt.AsTime()
		if !home.After(before) {
			t.Errorf("%s is home at %s, not after the faster group", group.Group, home)
		}
		before = home
		if group.Points[0].What != "start" || group.Points[len(group.Points)-1].What != "home" {
			t.Errorf("%s: points from %q to %q", group.Group, group.Points[0].What, group.Points[len(group.Points)-1].What)
		}
		for _, point := range group.Points {
			if point.What == "Barn" && point.LeavesAt.AsTime().Sub(point.At.AsTime()) != 40*time.Minute {
				t.Errorf("%s stands at the barn for %s", group.Group, point.LeavesAt.AsTime().Sub(point.At.AsTime()))
			}
		}
		lit, dark := 0.0, 0.0
		last := group.StartAt.AsTime()
		for _, span := range group.Light {
			if !span.FromAt.AsTime().Equal(last) {
				t.Errorf("%s: a gap in the light before %s", group.Group, span.FromAt.AsTime())
			}
			last = span.ToAt.AsTime()
			if span.Lit {
				lit += last.Sub(span.FromAt.AsTime()).Minutes()
			}
			if span.Dark {
				dark += last.Sub(span.FromAt.AsTime()).Minutes()
			}
		}
		if !last.Equal(home) || !near(lit, group.LitMin) || !near(dark, group.DarkMin) {
			t.Errorf("%s: light ends %s, home %s; lit %g and %g, dark %g and %g", group.Group, last, home, lit, group.LitMin, dark, group.DarkMin)
		}
	}
	easy := planned.Groups[2]
	if easy.DarkMin == 0 || planned.Groups[0].LitMin != 0 {
		t.Errorf("easy is %g min in the dark, brisk needs lights for %g min", easy.DarkMin, planned.Groups[0].LitMin)
	}
	if len(planned.Notes) == 0 || !strings.Contains(planned.Notes[len(planned.Notes)-1], "No weather was entered") ||
		!strings.Contains(planned.Notes[len(planned.Notes)-1], "lamps are taken to last as long as declared") {
		t.Errorf("the plan does not say what it assumes: %q", planned.Notes)
	}
}

// TestLatestStart starts at the instant told, and a minute later: home with the margin, and no longer.
func TestLatestStart(t *testing.T) {
	planned := plan(t, nil)
	for i, group := range planned.Groups {
		for _, late := range []time.Duration{0, time.Minute} {
			moved := plan(t, func(ride *pb.Ride) {
				ride.StartAt = timestamppb.New(group.LatestStartAt.AsTime().Add(late))
			})
			margin := moved.Groups[i].GetMarginMin()
			if late == 0 && (margin < 30-0.1 || margin > 30.1) || late > 0 && margin >= 30 {
				t.Errorf("%s: started %s after the latest start it is home %g min before dark, want 30", group.Group, late, margin)
			}
		}
	}
}

// TestCircumstances decides wet, dry, ice and fog for each group by the hours in which it is out.
func TestCircumstances(t *testing.T) {
	weather := func(temperature float64, wet bool, visibility float64) *pb.Weather {
		return &pb.Weather{TemperatureC: &temperature, Wet: &wet, VisibilityM: &visibility,
			WindKmh: proto.Float64(0), HumidityPct: proto.Float64(70), ClearSky: proto.Bool(false)}
	}
	tests := []struct {
		name  string
		start *pb.Weather
		later []*pb.HourWeather
		want  [3]string
	}{
		{"dry", weather(12, false, 9000), nil, [3]string{"SEASON DRY", "SEASON DRY", "SEASON DARK DRY"}},
		{"wet", weather(12, true, 9000), nil, [3]string{"SEASON WET", "SEASON WET", "SEASON DARK WET"}},
		{"rain after brisk is home", weather(12, false, 9000), []*pb.HourWeather{{FromLocal: "2026-12-13T14:40", Weather: weather(11, true, 9000)}},
			[3]string{"SEASON DRY", "SEASON WET", "SEASON DARK WET"}},
		{"fog for the last", weather(12, false, 9000), []*pb.HourWeather{{FromLocal: "2026-12-13T15:30", Weather: weather(11, false, 99)}},
			[3]string{"SEASON DRY", "SEASON DRY", "SEASON DARK POOR_VISIBILITY DRY"}},
		{"visibility at the limit", weather(12, false, 100), nil, [3]string{"SEASON DRY", "SEASON DRY", "SEASON DARK DRY"}},
		// Icy descents are ridden so slowly that the second group comes home in the dusk too.
		{"frost", weather(-3, true, 9000), nil, [3]string{"SEASON WET ICE", "SEASON DARK WET ICE", "SEASON DARK WET ICE"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			planned := plan(t, func(ride *pb.Ride) {
				ride.Conditions = &pb.Conditions{Start: test.start, Later: test.later}
			})
			for i, group := range planned.Groups {
				var got []string
				for _, circumstance := range group.Circumstances[1:] {
					got = append(got, circumstance.String())
				}
				if s := strings.Join(got, " "); s != test.want[i] {
					t.Errorf("%s: %s, want %s", group.Group, s, test.want[i])
				}
			}
		})
	}
}

// TestIceIsSlower rides the same route on a road that may be icy: later home.
func TestIceIsSlower(t *testing.T) {
	under := func(temperature float64) time.Time {
		return plan(t, func(ride *pb.Ride) {
			ride.Conditions = &pb.Conditions{Start: &pb.Weather{
				TemperatureC: &temperature, Wet: proto.Bool(true), HumidityPct: proto.Float64(90)}}
		}).Groups[0].HomeAt.AsTime()
	}
	if icy, wet := under(-2), under(8); !icy.After(wet) {
		t.Errorf("home at %s on ice, at %s on a wet road", icy, wet)
	}
}

// TestRouteFault tells a route that cannot be read as a fault of the field.
func TestRouteFault(t *testing.T) {
	_, _, err := roster.ReadRoute([]byte("{}"))
	if !fault.Is(err, pb.Reason_ROUTE_INVALID) || !strings.Contains(err.Error(), "route_gpx: ") {
		t.Errorf("%v", err)
	}
}

func at(clock string) time.Time {
	parsed, err := time.Parse("2006-01-02 15:04", "2026-12-13 "+clock)
	if err != nil {
		panic(err)
	}
	return parsed
}

func near(a, b float64) bool { return a-b < 1e-6 && b-a < 1e-6 }

// entrant is a rider on a bike that is ready, or has one lamp for an hour, or no guards.
func entrant(i int, paceMin float64, leads, marks bool, bike string) roster.Entrant {
	id := fmt.Sprintf("m%d", i)
	member := "clubs/c/members/" + id
	guard := &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_BELOW_HUB, Flap: proto.Bool(true), Secure: proto.Bool(true)}
	brake := &pb.Brake{Kind: pb.Brake_RIM, PadMm: proto.Float64(4), RimWear: pb.Brake_WITHIN, Contaminated: proto.Bool(false), Glazed: proto.Bool(false)}
	tyre := &pb.Tyre{WidthMm: proto.Float64(28), Tread: pb.Tyre_GOOD, Cuts: pb.Tyre_NONE}
	facts := &pb.BikeFacts{
		Title: "bike " + id, Guards: &pb.Guards{Front: guard, Rear: guard}, Brakes: &pb.Brakes{Front: brake, Rear: brake},
		Tyres: &pb.Tyres{Front: tyre, Rear: tyre}, Frame: &pb.Frame{DamageOpen: proto.Bool(false)}}
	minutes := 300.0
	switch bike {
	case "short":
		minutes = 60
	case "bare":
		facts.Guards = &pb.Guards{
			Front: &pb.Guard{Kind: pb.Guard_NONE, Secure: proto.Bool(true)}, Rear: &pb.Guard{Kind: pb.Guard_NONE, Secure: proto.Bool(true)}}
	}
	for _, end := range []pb.End{pb.End_FRONT, pb.End_REAR} {
		facts.Lights = append(facts.Lights, &pb.Light{End: end, Mode: pb.Light_STEADY, RuntimeMin: &minutes, Power: pb.Light_RECHARGEABLE})
	}
	return roster.Entrant{
		Member: &pb.Member{Name: member, DisplayName: "Rider " + id, PaceMinKmh: paceMin, PaceMaxKmh: paceMin + 4,
			MayLead: leads, MayMarkBack: marks, Roles: []pb.Role{pb.Role_MEMBER}},
		Bike: &pb.Bike{Name: member + "/bikes/b", Declaration: &pb.Declaration{
			Revision: 1, CertifiedAt: timestamppb.New(friday.Add(-48 * time.Hour)), Facts: facts}},
		Signup: &pb.Signup{Name: "clubs/c/rides/r/signups/" + id, Member: member, Bike: member + "/bikes/b", State: pb.Signup_IN},
	}
}

func input(t testing.TB, entrants []roster.Entrant) roster.Input {
	_, ride := becks(t)
	return roster.Input{
		Club: &pb.Club{Name: "clubs/c", Title: "C", Zone: "Europe/London"}, Ride: ride, LeaderName: "Rider m0",
		Plan: plan(t, nil), Policy: winter(t), PolicyNumber: 1, Entrants: entrants, Now: friday,
	}
}

// TestPlaceHolds checks, for random clubs, that a placement keeps what it must, that riders of standing BACK ride behind
// the others with the back marker last, and that it does not depend on the order of signing up.
func TestPlaceHolds(t *testing.T) {
	base := input(t, nil)
	rapid.Check(t, func(r *rapid.T) {
		count := rapid.IntRange(1, 16).Draw(r, "riders")
		var entrants []roster.Entrant
		for i := range count {
			entrants = append(entrants, entrant(i, rapid.SampledFrom([]float64{16, 20, 22, 25, 27}).Draw(r, "pace"),
				rapid.IntRange(0, 2).Draw(r, "leads") == 0, rapid.IntRange(0, 2).Draw(r, "marks") == 0,
				rapid.SampledFrom([]string{"ready", "ready", "short", "bare"}).Draw(r, "bike")))
		}
		in := base
		in.Entrants = entrants
		placed, err := roster.Place(context.Background(), in)
		if err != nil {
			r.Fatal(err)
		}
		holds(r, in, placed)
		in.Entrants = rapid.Permutation(entrants).Draw(r, "order")
		again, err := roster.Place(context.Background(), in)
		if err != nil {
			r.Fatal(err)
		}
		if !sameGroups(placed, again) {
			r.Fatalf("the order of signing up changes the placement:\n%v\n%v", placed, again)
		}
	})
}

func sameGroups(a, b *pb.Placement) bool {
	if len(a.Groups) != len(b.Groups) {
		return false
	}
	for i := range a.Groups {
		if !proto.Equal(a.Groups[i], b.Groups[i]) {
			return false
		}
	}
	return true
}

func holds(r *rapid.T, in roster.Input, placed *pb.Placement) {
	if !placed.Proven || !placed.Checked || placed.Doubt != "" || placed.Bound != nil {
		r.Fatalf("proven %v, checked %v, doubt %q, bound %v", placed.Proven, placed.Checked, placed.Doubt, placed.Bound)
	}
	limits := in.Policy.Groups()
	seen := map[string]bool{}
	for _, group := range placed.Groups {
		var riders []*pb.Rider
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider != nil {
					riders = append(riders, rider)
				}
			}
		}
		if n := int32(len(riders)); n < limits.Size.Min || n > limits.Size.Max {
			r.Fatalf("%s has %d riders", group.Group, n)
		}
		back, leads, behind := int32(0), 0, false
		for i, rider := range riders {
			if seen[rider.Member] {
				r.Fatalf("%s rides twice", rider.Member)
			}
			seen[rider.Member] = true
			switch rider.Standing {
			case pb.Standing_HELD:
				r.Fatalf("%s is held and rides in %s", rider.Member, group.Group)
			case pb.Standing_BACK:
				back++
				behind = behind || !rider.Leads
			case pb.Standing_CLEAR, pb.Standing_ADVISED:
				if behind && !rider.MarksBack {
					r.Fatalf("%s, who is clear, rides behind one of standing BACK", rider.Member)
				}
			}
			if rider.Leads {
				leads++
				if i > 1 {
					r.Fatalf("the leader of %s is not in the first row", group.Group)
				}
			}
			if rider.MarksBack && i != len(riders)-1 {
				r.Fatalf("the back marker of %s is not the last", group.Group)
			}
		}
		if back > limits.BackPlaces || leads != 1 || group.BackMarker == "" || group.Leader == group.BackMarker {
			r.Fatalf("%s: %d at the back, %d leaders, back marker %q", group.Group, back, leads, group.BackMarker)
		}
	}
	for _, one := range placed.Unplaced {
		if seen[one.Member] || len(one.Why) == 0 {
			r.Fatalf("%s: placed %v, why %q", one.Member, seen[one.Member], one.Why)
		}
		seen[one.Member] = true
	}
	if len(seen) != len(in.Entrants) {
		r.Fatalf("%d of %d riders are told of", len(seen), len(in.Entrants))
	}
}
