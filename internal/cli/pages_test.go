package cli_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/cli"
	pb "gritward/proto/gritward/v1"
)

// holds tells a test of what is missing in a text, or there against its will ("not: " before it).
func holds(t *testing.T, got string, wants ...string) {
	t.Helper()
	for _, want := range wants {
		text, unwanted := strings.CutPrefix(want, "not: ")
		if strings.Contains(got, text) == unwanted {
			t.Errorf("%q in\n%s", want, got)
		}
	}
}

const blueName = "clubs/c/members/ida/bikes/blue"

func TestLifts(t *testing.T) {
	flap := &pb.LiftWay{Reaches: pb.Standing_CLEAR, Words: "Fit a flap, and the bike rides anywhere in Steady.",
		Steps: []*pb.LiftStep{{Rule: "guards", Remedy: "Fit a flap."}}}
	two := &pb.LiftWay{Reaches: pb.Standing_ADVISED, Words: "Charge the lamp and fit a flap.",
		Steps: []*pb.LiftStep{{Rule: "lights", Remedy: "Charge the\x1b lamp."}, {Rule: "guards", Remedy: "Fit a flap."}}}
	lifts := []*pb.Lift{{Group: "steady", Standing: pb.Standing_BACK, Ways: []*pb.LiftWay{flap, two}},
		{Group: "brisk", Standing: pb.Standing_CLEAR}, {Group: "easy", Standing: pb.Standing_HELD}}
	holds(t, cli.LayLifts(lifts), "steady: stands back\n  advised, by all of these:\n    lights: Charge the\ufffd lamp.\n    guards: Fit a flap.\n"+
		"  clear: Fit a flap, and the bike rides anywhere in Steady.\n",
		"brisk: stands clear\n  Nothing to put right.\n", "easy: stands held\n  Nothing that could be done to the bike lifts it.\n")
	holds(t, cli.LayLifts(nil), "Nothing was assessed")
	other := proto.CloneOf(lifts[0])
	other.Group, other.Ways[0].Words = "touring", "Fit a flap, and the bike rides anywhere in Touring."
	holds(t, cli.LayLifts([]*pb.Lift{lifts[0], lifts[1], other}), "steady, touring: stands back\n", "  clear: Fit a flap.\n", "not: anywhere")
	start := &pb.Lift{Group: "steady", Standing: pb.Standing_HELD, Stays: []string{"vest"}, Ways: []*pb.LiftWay{two, {Reaches: pb.Standing_BACK,
		Words: "Charge the lamp, and you ride at the back.", Steps: two.Steps[:1]}}}
	holds(t, cli.LayShortLift([]*pb.Lift{start}), "  steady: Charge the lamp, and you ride at the back.\n")
	holds(t, cli.LayLifts([]*pb.Lift{start}), "  clear: not by work on the bike, for rule vest asks for something else.\n")
	holds(t, cli.LayLifts([]*pb.Lift{start, {Group: "easy", Standing: pb.Standing_HELD, Stays: []string{"vest", "bell"}, Ways: start.Ways}}),
		"steady: stands held\n", "easy: stands held\n", "for rule vest and rule bell ask for\n    something else.\n")
	holds(t, cli.LayLifts([]*pb.Lift{{Group: "steady", Standing: pb.Standing_HELD, Stays: []string{"vest"}}}),
		"  Nothing that could be done to the bike lifts it, for rule vest asks for\n    something else.\n")
	short := cli.LayShortLift(lifts)
	holds(t, short, "gritward bike lift blue --ride r1", "  steady: Fit a flap, and the bike rides anywhere in Steady.\n", "not: Charge", "not: brisk", "not: easy")
	if got := cli.LayShortLift(lifts[1:]); got != "" {
		t.Errorf("nothing lifts, and yet %q", got)
	}
}

func TestTimes(t *testing.T) {
	at := func(clock string) *timestamppb.Timestamp {
		parsed, err := time.Parse("2006-01-02 15:04", "2026-12-13 "+clock)
		if err != nil {
			t.Fatal(err)
		}
		return timestamppb.New(parsed)
	}
	times := []*pb.RecordedTime{
		{Group: "easy", Ride: "clubs/c/rides/2026-12-13-becks", PaceKmh: 18, StartAt: at("10:30"), HomeAt: at("15:58"), RidersHome: 6,
			PlannedMin: 276.2, TookMin: 288},
		{Group: "steady", Ride: "clubs/c/rides/2026-12-06-moor", PaceKmh: 23.5, StartAt: at("10:40"), StartMarked: true,
			HomeAt: at("14:19"), RidersHome: 3, PlannedMin: 180, TookMin: 179.4},
	}
	holds(t, cli.LayTimes(times),
		"group   ride              pace       set off           home             planned  recorded\n",
		"easy    2026-12-13-becks  18 km/h    10:30 as planned  15:58, 6 riders  4:36     4:48      +4 %\n",
		"steady  2026-12-06-moor   23.5 km/h  10:40 marked      14:19, 3 riders  3:00     2:59      on plan\n")
	holds(t, cli.LayTimes(nil), "no times are recorded yet")
}

// TestNextFirst: the next ride first, past ones after those to come, newest first; a closed one is past at once.
func TestNextFirst(t *testing.T) {
	now := time.Date(2026, 12, 13, 12, 0, 0, 0, time.UTC)
	var rides []*pb.Ride
	for _, one := range []struct {
		name  string
		hours int
		state pb.Ride_State
	}{{"after next", 300, pb.Ride_OPEN}, {"next", 100, pb.Ride_OPEN}, {"under way", -2, pb.Ride_OPEN}, {"closed", -3, pb.Ride_CLOSED},
		{"never closed", -11, pb.Ride_OPEN}, {"old", -500, pb.Ride_CLOSED}} {
		rides = append(rides, &pb.Ride{Name: one.name, State: one.state, StartAt: timestamppb.New(now.Add(time.Duration(one.hours) * time.Hour))})
	}
	cli.NextFirst(rides, now)
	var got []string
	for _, ride := range rides {
		got = append(got, ride.Name)
	}
	if want := "under way, next, after next, closed, never closed, old"; strings.Join(got, ", ") != want {
		t.Errorf("%s, want %s", strings.Join(got, ", "), want)
	}
}

func TestDue(t *testing.T) {
	items := []*pb.DueItem{
		{Bike: blueName, What: "Measure the chain", Why: "last measured 61 days ago; the policy asks for 60",
			Urgency: pb.DueItem_OVERDUE, DueOn: "2026-12-10", Rule: "chain-measured", Standing: pb.Standing_HELD, Cause: pb.DueItem_DATE},
		{Bike: blueName, What: "Renew the rear pads", Urgency: pb.DueItem_SOON, DueInKm: proto.Float64(120.4), Standing: pb.Standing_BACK, Cause: pb.DueItem_DISTANCE,
			Projection: &pb.WearProjection{Words: "0.7 mm left; at this rate 90 to 160 km"}},
		{Bike: blueName, What: "Wax the frame", Urgency: pb.DueItem_LATER, DueOn: "2027-03-01", Standing: pb.Standing_ADVISED, Cause: pb.DueItem_WET_RIDE},
		{Bike: blueName, What: "Renew the chain", Urgency: pb.DueItem_OVERDUE, DueInKm: proto.Float64(0)},
	}
	holds(t, cli.LayDue(items, false),
		"ida/blue: Measure the chain. Overdue since 10 December 2026, held until it is\n  done.\n  last measured 61 days ago; the policy asks for 60\n  Asked by rule chain-measured\n",
		"ida/blue: Renew the rear pads. In 120 km, or it rides at the back.\n  0.7 mm left; at this rate 90 to 160 km\n", "not: Wax", "ida/blue: Renew the chain. Due now.\n",
		"Not due yet: 1 thing; --later shows them.")
	holds(t, cli.LayDue(items, true), "ida/blue: Wax the frame. By 1 March 2027 (advice).\n", "not: Not due yet")
	holds(t, cli.LayDue(items[2:3], false), "Nothing is due.\nNot due yet: 1 thing")
	everyday := &pb.DueItem{Bike: blueName, What: "Renew the chain", Rule: "chain", Why: "The chain is at 0.7 %.", Urgency: pb.DueItem_OVERDUE,
		Standing: pb.Standing_BACK, Cause: pb.DueItem_STATE, Projection: &pb.WearProjection{}}
	silent := &pb.DueItem{Bike: blueName, What: "Declare the tyres", Urgency: pb.DueItem_OVERDUE, Cause: pb.DueItem_NOT_DECLARED}
	holds(t, cli.LayDue([]*pb.DueItem{everyday, silent, silent}, false), "ida/blue: Renew the chain. Due now, at the back until it is done.\n",
		"  Asked by rule chain\n", "ida/blue: 2 things that rules ask for are not declared, see: gritward bike standing ida/blue\n", "not: Declare the tyres")
	holds(t, cli.LayDue(nil, false), "Nothing is due.\n", "not: Not due yet")
}

func TestPreview(t *testing.T) {
	change := &pb.StandingChange{Bike: blueName, Ride: "clubs/c/rides/r1", Group: "steady", From: pb.Standing_CLEAR,
		To: pb.Standing_HELD, Rules: []string{"guards", "flap"}}
	easy, later := proto.CloneOf(change), proto.CloneOf(change)
	easy.Group, later.Ride, later.Rules = "easy", "clubs/c/rides/r2", []string{"guards"}
	day := &pb.StandingChange{Bike: blueName, Group: "after dark", From: pb.Standing_CLEAR, To: pb.Standing_BACK}
	got := cli.LayPreview(&pb.PreviewPolicyResponse{Bikes: []*pb.StandingChange{day}, BikesSeen: 30, BikesChanged: 3,
		Riders: []*pb.StandingChange{change, easy, later}, RidersSeen: 60, RidersChanged: 4,
		Warnings: []*pb.Problem{{File: "w.yaml", Line: 3, Column: 1, Severity: pb.Problem_WARNING, Message: "hidden by guards"}}})
	holds(t, got, "w.yaml:3:1: warning: hidden by guards\n", "Bikes in use: 30 looked at, 3 would stand otherwise.\n",
		"  ida/blue  after dark  clear  ->  back", "  2 more are not listed; --most lists more\n",
		"in each group: 60 looked at, 4 would stand otherwise.\n", "  Ride r1\n", "ida/blue      steady, easy  clear  ->  held  guards, flap\n",
		"  1 more is not listed; --most lists more\n", "  Ride r2\n", "Rules that do it, by changes listed: guards 3, flap 2\n")
}

func TestDifference(t *testing.T) {
	for want, difference := range map[string]*pb.PolicyDifference{
		"added    rule flap: a whole rule\n": {Kind: pb.PolicyDifference_ADDED, Rule: "flap", After: "a whole rule"},
		"removed  rule flap\n":               {Kind: pb.PolicyDifference_REMOVED, Rule: "flap"},
		"moved    rule flap\n":               {Kind: pb.PolicyDifference_MOVED, Rule: "flap"},
		"changed  rule guards, need.rear: full -> clip-on\n": {Kind: pb.PolicyDifference_CHANGED, Rule: "guards", Path: "need.rear",
			Before: "full", After: "clip-on"},
		"changed  setting, dark.margin: (not stated) -> 30m\n": {Kind: pb.PolicyDifference_CHANGED, Path: "dark.margin", After: "30m"},
	} {
		if got := cli.LayDifference(difference); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestScore(t *testing.T) {
	got := cli.LayScore(&pb.Placement{Placed: 12, PreferencesMet: 1, Wishes: 3, Moves: 2, Discomfort: 270, Proven: true})
	want := "Placed 12 riders; without a place 0; 1 of 3 wishes met; 2 moves from the last\n  issue. This is the best placement there is.\n"
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	holds(t, cli.LayScore(&pb.Placement{}), "not proven the best")
	holds(t, cli.LayScore(&pb.Placement{Placed: 12, Proven: true, Checked: true}), "best placement there is, and its proof was checked")
	holds(t, cli.LayScore(&pb.Placement{Placed: 12, Checked: true, Bound: &pb.PlacementBound{Placed: 13}}), "at most 13 riders could")
	holds(t, cli.LayScore(&pb.Placement{Placed: 12, Checked: true, Bound: &pb.PlacementBound{Placed: 12}}), "As many riders are placed as can be")
	holds(t, cli.LayScore(&pb.Placement{Placed: 12, Doubt: "proof: case 1"}), "proof of this placement does not hold")
}

func TestPaces(t *testing.T) {
	rider := func(name string, off float64, junior bool) *pb.Rider {
		return &pb.Rider{DisplayName: name, PaceOffKmh: off, Junior: junior}
	}
	got := cli.LayPaces(&pb.Placement{Groups: []*pb.RosterGroup{{Group: "steady", Title: "Steady", Rows: []*pb.Row{
		{Left: rider("Ada", 2, false), Right: rider("Bo", 1.94, false)}, {Left: rider("Cy", -5, false)},
		{Left: rider("Di", 3.46, true)}}}}})
	want := "Ada would ride 2 km/h above own pace in Steady: ask before the start.\n" +
		"! Di (junior) would ride 3.5 km/h above own pace in Steady: ask before the\n  start.\n"
	if got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func TestDraft(t *testing.T) {
	ride := &pb.Ride{Name: "clubs/c/rides/r1"}
	placed := &pb.Placement{Placed: 3, Basis: "abc"}
	limits := &pb.RidePlan{CallOff: []string{"Gusts up to 95 km/h; the limit is 70 km/h."}}
	tests := []struct {
		name  string
		draft *pb.Roster
		want  []string
	}{
		{"ready", &pb.Roster{Ride: ride, Placement: placed}, []string{"Next: gritward ride publish r1 --basis abc\n"}},
		{"a limit passed", &pb.Roster{Ride: ride, Placement: placed, Plan: limits},
			[]string{"! Call-off limit passed: Gusts up to 95", "call-off r1 --reason TEXT", "not: --basis"}},
		{"a limit passed, with a reason", &pb.Roster{Ride: &pb.Ride{Name: ride.Name, Reason: "sheltered"}, Placement: placed, Plan: limits},
			[]string{"! Call-off limit passed", "--basis abc"}},
		{"nobody", &pb.Roster{Ride: ride, Placement: &pb.Placement{Idle: []*pb.IdleGroup{{Why: "no leader"}, {Why: "no leader"}}}},
			[]string{"Nobody is placed, so there is nothing to publish: no leader.\n", "Next: who is qualified", "not: --basis"}},
		{"nobody, and no reason", &pb.Roster{Ride: ride, Placement: &pb.Placement{}}, []string{"nothing to publish.\n", "not: Next"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) { holds(t, cli.LayDraft(test.draft), test.want...) })
	}
}

func TestRolesHint(t *testing.T) {
	for why, want := range map[string]string{
		"steady: no leader":              "--may-lead",
		"no back marker, as the others…": "--may-mark-back",
		"no leader|no back marker":       "--may-lead or --may-mark-back",
	} {
		if got := cli.RolesHint(strings.Split(why, "|")); !strings.HasSuffix(got, "gritward member change MEMBER "+want) {
			t.Errorf("%s: %q", why, got)
		}
	}
	if got := cli.RolesHint([]string{"too few riders: 1 of 4"}); got != "" {
		t.Errorf("got %q", got)
	}
}

func TestStale(t *testing.T) {
	issue := &pb.Roster{Name: "clubs/c/rides/r1/rosters/3", Number: 3, Since: []string{"The start is now 2026-12-13T13:00."}}
	holds(t, cli.LayStale(issue, true), "Issue 3 of the roster does not say yet:\n  The start is now 2026-12-13 13:00.\n",
		"Next: gritward ride place r1, then gritward ride publish r1\n")
	holds(t, cli.LayStale(issue, false), "the ride leader publishes the next issue", "not: gritward ride publish")
}

// TestWrap: lines keep to the width, words whole, and numbers with their units.
func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[a-z]{1,12}`), 0, 40).Draw(t, "words")
		most := rapid.IntRange(12, 60).Draw(t, "most")
		lines := cli.Wrap(strings.Join(words, " "), most)
		for _, line := range lines {
			if len(line) > most {
				t.Fatalf("%d columns of %d: %q", len(line), most, line)
			}
		}
		if got, want := strings.Join(lines, " "), strings.Join(words, " "); got != want {
			t.Fatalf("got %q, want %q", got, want)
		}
	})
	for _, line := range cli.Wrap("it is home 1 h 20 min before dark on 26 December 2026 after 77.9 km", 10) {
		if strings.HasSuffix(line, "1") || strings.HasSuffix(line, "20") || strings.HasSuffix(line, "26") || strings.HasSuffix(line, "77.9") {
			t.Errorf("a number without its unit: %q", line)
		}
	}
	if got := cli.Wrap("", 10); len(got) != 1 || got[0] != "" {
		t.Errorf("got %q", got)
	}
}

// TestAssessments: findings stand worst first, and what all of it rests on stands once.
func TestAssessments(t *testing.T) {
	one := func(group string) *pb.Assessment {
		return &pb.Assessment{Bike: blueName, Group: group, Standing: pb.Standing_HELD, DeclarationRevision: 2, PolicyDigest: "0123456789abcdef",
			NotApplied: []string{"by-night"}, Findings: []*pb.Finding{
				{Rule: "mild", Standing: pb.Standing_ADVISED, Remedy: "r"}, {Rule: "worst", Standing: pb.Standing_HELD, Remedy: "r"},
				{Rule: "met", Standing: pb.Standing_CLEAR}, {Rule: "middle", Standing: pb.Standing_BACK, Remedy: "r"}}}
	}
	list := []*pb.Assessment{one("a"), one("b")}
	got := cli.LayAssessments(list, false)
	at := func(word string) int { return strings.Index(got, word) }
	if !(0 < at("worst") && at("worst") < at("middle") && at("middle") < at("mild")) {
		t.Errorf("not worst first:\n%s", got)
	}
	if n := strings.Count(got, "0123456789ab"); n != 1 {
		t.Errorf("the ground is told %d times:\n%s", n, got)
	}
	holds(t, got, "Declaration 2, policy digest 0123456789ab\n", "not: by-night")
	holds(t, cli.LayAssessments(list, true), "by-night")
	if list[0].GetFindings()[0].GetRule() != "mild" || list[0].GetDeclarationRevision() != 2 {
		t.Error("the caller's assessment was changed")
	}
}

// BenchmarkPreview lays out the changes of a large club.
func BenchmarkPreview(b *testing.B) {
	answer := &pb.PreviewPolicyResponse{BikesChanged: 1000}
	for i := range 1000 {
		answer.Bikes = append(answer.Bikes, &pb.StandingChange{Bike: fmt.Sprintf("clubs/c/members/m%d/bikes/b", i), Group: "by day",
			From: pb.Standing_CLEAR, To: pb.Standing_BACK, Rules: []string{"guards"}})
	}
	for b.Loop() {
		cli.LayPreview(answer)
	}
}

func TestStandingsWords(t *testing.T) {
	in := func(group string, standing pb.Standing, rules ...string) *pb.Assessment {
		one := &pb.Assessment{Group: group, Standing: standing}
		for _, rule := range rules {
			one.Findings = append(one.Findings, &pb.Finding{Rule: rule, Standing: standing})
		}
		return one
	}
	brisk, steady, easy := in("brisk", pb.Standing_BACK, "guards"), in("steady", pb.Standing_BACK, "guards"), in("easy", pb.Standing_HELD, "rear-light")
	for _, c := range []struct {
		standings   []*pb.Assessment
		plain, full string
	}{
		{nil, "", ""},
		{[]*pb.Assessment{easy}, "easy held", "easy held [held: rear-light]"},
		{[]*pb.Assessment{brisk, steady}, "back in every group", "back [back: guards] in every group"},
		{[]*pb.Assessment{brisk, easy, steady}, "brisk, steady back; easy held", "brisk, steady back [back: guards]; easy held [held: rear-light]"},
	} {
		if plain, full := cli.StandingsWords(c.standings, false), cli.StandingsWords(c.standings, true); plain != c.plain || full != c.full {
			t.Errorf("got %q and %q, want %q and %q", plain, full, c.plain, c.full)
		}
	}
}
