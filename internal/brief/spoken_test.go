package brief_test

import (
	"regexp"
	"strings"
	"testing"

	"gritward/internal/brief"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"
)

// mild takes all that a day can hold against the riders out of the winter run.
func mild(r *pb.Roster) {
	r.Ride.Hazards, r.Plan.CallOff = nil, nil
	for _, g := range r.Placement.Groups {
		p := g.Plan
		p.Ice, p.DarkMin, p.LitMin, p.GustMaxKmh, p.Light = pb.CallOff_ICE_UNSPECIFIED, 0, 0, nil, nil
		p.Circumstances = []pb.Circumstance{pb.Circumstance_ALWAYS}
	}
}

// TestSpokenMattersMost: each day's story says what matters most on that day, and what weighs less gives way.
func TestSpokenMattersMost(t *testing.T) {
	// In this order each is worse than the one before, and stays when the worse one comes.
	story := []struct {
		name string
		add  func(*pb.Roster, *pb.GroupPlan)
		want string
	}{
		{"nothing", func(*pb.Roster, *pb.GroupPlan) {}, "No hazard is noted, which does not mean there is none"},
		{"wet", func(_ *pb.Roster, p *pb.GroupPlan) { p.Circumstances = append(p.Circumstances, pb.Circumstance_WET) }, "The road is wet"},
		{"a hazard", func(r *pb.Roster, _ *pb.GroupPlan) {
			r.Ride.Hazards = []*pb.PlaceNote{{AtDistanceM: 30000, What: "Ford"}, {AtDistanceM: 12400, What: "Cattle grid. Walk it."}}
		}, "Watch out at 12.4 km, cattle grid, the first of 2 hazards"},
		{"gusts", func(_ *pb.Roster, p *pb.GroupPlan) { p.GustMaxKmh = proto.Float64(61) }, "Gusts reach 61 km/h"},
		{"dark", func(_ *pb.Roster, p *pb.GroupPlan) { p.DarkMin = 31.2 }, "We ride 32 min in the dark"},
		{"fog", func(_ *pb.Roster, p *pb.GroupPlan) {
			p.Circumstances = append(p.Circumstances, pb.Circumstance_POOR_VISIBILITY)
		}, "We see little"},
		{"ice", func(_ *pb.Roster, p *pb.GroupPlan) { p.Ice = pb.CallOff_POSSIBLE }, "Ice is possible, first on bridges and in shade"},
		{"more ice", func(_ *pb.Roster, p *pb.GroupPlan) { p.Ice = pb.CallOff_LIKELY }, "Ice is likely, first on bridges and in shade"},
		{"a limit", func(r *pb.Roster, _ *pb.GroupPlan) {
			r.Plan.CallOff = []string{"Wind up to 95 km/h; the limit for calling a ride off is above 70 km/h."}
		}, "Ice is likely, and wind up to 95 km/h, past the club's limit"},
		{"all limits", func(r *pb.Roster, _ *pb.GroupPlan) {
			r.Plan.CallOff = []string{"Feels like -11.2 °C: air -3 °C, wind 40 km/h; the limit for calling a ride off is below -8 °C.", "Wind up to 95 km/h; the limit is above 70 km/h.",
				"Fog, 80 m; the limit is below 150 m.", "Ice is likely: wet at -1 °C; the limit is when likely."}
		}, "Ice is likely, feels like -11.2 °C, wind up to 95 km/h and fog, 80 m, past the club's limits"},
	}
	r := rostertest.Load(t, "winter-run")
	mild(r)
	for _, day := range story {
		day.add(r, r.Placement.Groups[0].Plan)
		got := brief.Compose(r).Spoken[0].Sentences[3]
		if !strings.HasPrefix(got, day.want+":") || !strings.Contains(got, "leave a metre or more to the wheel in front") {
			t.Errorf("%s: said %q, want %q first, and how far apart", day.name, got, day.want)
		}
	}
}

func TestSpokenTells(t *testing.T) {
	for _, c := range []struct {
		name     string
		sentence int
		change   func(*pb.Roster, *pb.RosterGroup)
		want     string
	}{
		{"both", 0, func(r *pb.Roster, _ *pb.RosterGroup) { mild(r) }, "Ann Aske leads and Ben Bole marks the back: stay between the two, two abreast until single file is called."},
		{"no back marker", 0, func(_ *pb.Roster, g *pb.RosterGroup) { g.BackMarker = "" }, "Ann Aske leads, and who marks the back we settle now:"},
		{"no leader", 0, func(_ *pb.Roster, g *pb.RosterGroup) { g.Leader = "" }, "Who leads we settle now, and Ben Bole marks the back:"},
		{"single file", 0, func(r *pb.Roster, _ *pb.RosterGroup) { r.Ride.SingleFile = true }, "in single file all the way."},
		{"ice", 0, func(_ *pb.Roster, g *pb.RosterGroup) { g.Plan.Ice = pb.CallOff_POSSIBLE }, "stay between the two, in single file wherever it is icy or we see little."},
		{"two stops", 1, nil, "We ride 72.4 km, stop at Mill tea room about 10:26 and once more, and are home about 12:31."},
		{"no stop", 1, func(r *pb.Roster, _ *pb.RosterGroup) { r.Ride.Stops = nil }, "We ride 72.4 km, and are home about 12:31."},
		{"no times", 1, func(_ *pb.Roster, g *pb.RosterGroup) { g.Plan.HomeAt = nil }, "nobody knows yet when we are home."},
		{"by day", 2, nil, "It is 1 °C and feels like −4 °C at worst, on a wet road; the sun sets at 15:51, and on time we need no lights."},
		{"no weather", 2, func(r *pb.Roster, _ *pb.RosterGroup) { r.Plan.Weather = nil }, "No weather is known; the sun sets at 15:51"},
		{"whom to tell", 4, nil, "Tell Ann Aske before you turn back or leave us;"},
		{"whom to tell without a leader", 4, func(_ *pb.Roster, g *pb.RosterGroup) { g.Leader = "" }, "Tell the leader before you turn back"},
	} {
		r := rostertest.Load(t, "winter-run")
		if c.change != nil {
			c.change(r, r.Placement.Groups[0])
		}
		if got := brief.Compose(r).Spoken[0].Sentences[c.sentence]; !strings.Contains(got, c.want) {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
	r := rostertest.Load(t, "winter-run")
	if got := brief.Compose(r).Spoken[2].Sentences[2]; !strings.HasSuffix(got, "and lights are lit from 15:21 until home.") {
		t.Errorf("after dark: said %q", got)
	}
	r = rostertest.Load(t, "night-lake")
	if got := brief.Compose(r).Spoken; got != nil {
		t.Errorf("a ride that is called off has %v said at its start", got)
	}
}

var sentenceEnd = regexp.MustCompile(`[.!?](\s|$)`)

// TestSpokenIsFiveBreaths: five sentences for each group, each one sentence, and of no more than 40 words: about 15 s at
// 160 words a minute, a common pace of reading aloud (common practice, no source). In the rosters kept here it is 32.
func TestSpokenIsFiveBreaths(t *testing.T) {
	check := func(t interface{ Errorf(string, ...any) }, r *pb.Roster, most int) {
		spoken := brief.Compose(r).GetSpoken()
		if r.GetRide().GetState() != pb.Ride_CALLED_OFF && len(spoken) != len(r.GetPlacement().GetGroups()) {
			t.Errorf("%d groups are spoken to, of %d", len(spoken), len(r.GetPlacement().GetGroups()))
		}
		for _, one := range spoken {
			if len(one.Sentences) != 5 {
				t.Errorf("%s: %d sentences", one.Group, len(one.Sentences))
			}
			for _, s := range one.Sentences {
				if n := len(sentenceEnd.FindAllString(s, -1)); n != 1 || !strings.HasSuffix(s, ".") {
					t.Errorf("%q is %d sentences", s, n)
				}
				if n := len(strings.Fields(s)); n > most {
					t.Errorf("%q has %d words", s, n)
				}
			}
		}
	}
	for _, name := range rostertest.Names() {
		check(t, rostertest.Load(t, name), 32)
	}
	r := rostertest.Load(t, "winter-run")
	mild(r)
	r.Ride.Hazards = []*pb.PlaceNote{{AtDistanceM: 1000, What: strings.Repeat("Loose gravel after the bend, and more of it. ", 4)}}
	r.Ride.Stops = []*pb.Stop{{Title: "Mr. Hob's yard. Ring twice! Then wait; do knock", AtDistanceM: 9000}}
	check(t, r, 40)
	rapid.Check(t, func(rt *rapid.T) {
		r := rostertest.Random(rt)
		for _, one := range brief.Compose(r).GetSpoken() {
			if len(one.Sentences) != 5 || strings.Contains(strings.Join(one.Sentences, ""), "NaN") {
				rt.Fatalf("said %q", one.Sentences)
			}
		}
	})
}
