package readiness_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// told are the ways of a lift, each on a line: the standing reached, the rules, the words.
func told(lift *pb.Lift) []string {
	var lines []string
	for _, way := range lift.GetWays() {
		var rules []string
		for _, step := range way.GetSteps() {
			rules = append(rules, step.GetRule())
		}
		lines = append(lines, fmt.Sprintf("%v by %s: %s", way.GetReaches(), strings.Join(rules, ", "), way.GetWords()))
	}
	return lines
}

// TestLifts: the whole bike with one thing or more changed, on a night with lights for 145 min, under the shipped policy.
func TestLifts(t *testing.T) {
	noFlap := func(f *pb.BikeFacts) { f.Guards.Rear.Flap = ptr(false) }
	bare := func(f *pb.BikeFacts) { f.Guards.Rear = &pb.Guard{Kind: pb.Guard_NONE} }
	oneShortLamp := func(f *pb.BikeFacts) { f.Lights = f.Lights[:2]; f.Lights[1].RuntimeMin = ptr(60.0) }
	for name, c := range map[string]struct {
		change []func(*pb.BikeFacts)
		now    pb.Standing
		want   []string
	}{
		"nothing to lift": {nil, pb.Standing_CLEAR, nil},
		"a flap": {[]func(*pb.BikeFacts){noFlap}, pb.Standing_BACK, []string{
			"CLEAR by guards: Fit a flap to the rear guard, and the bike rides anywhere in Steady."}},
		"a guard, which must also fit": {[]func(*pb.BikeFacts){bare}, pb.Standing_BACK, []string{
			"CLEAR by guards: Fit a full rear guard with a flap, reaching at least as low as the hub, and the bike rides anywhere in Steady."}},
		"one more lamp that lasts meets both rules": {[]func(*pb.BikeFacts){oneShortLamp}, pb.Standing_HELD, []string{
			"CLEAR by rear-light: Use a mode that lasts at least 203 min at room temperature (175 min at 2 °C), or carry another rear lamp that lasts at least 143 min at room temperature (124 min at 2 °C): lamps used one after the other add up, and the bike rides anywhere in Steady."}},
		"nothing declared of the chain": {[]func(*pb.BikeFacts){func(f *pb.BikeFacts) { f.Chain.WearPct = nil }}, pb.Standing_ADVISED, []string{
			"CLEAR by chain-wear: Declare the chain's wear and the number of sprockets, and if all is as the rules ask the bike rides anywhere in Steady."}},
		"a crack is for a mechanic": {[]func(*pb.BikeFacts){func(f *pb.BikeFacts) { f.Frame.DamageOpen = ptr(true) }}, pb.Standing_HELD, []string{
			"CLEAR by frame-damage: Have a mechanic look at the damage before the bike is ridden: a crack can break without warning, and the bike rides anywhere in Steady."}},
		"a flap and pads": {[]func(*pb.BikeFacts){noFlap, func(f *pb.BikeFacts) { f.Brakes.Front.PadMm = ptr(0.2) }}, pb.Standing_HELD, []string{
			"CLEAR by guards, brakes: Fit a flap to the rear guard; renew the front disc pads; bed new ones in with about 20 slowings from 20 km/h to walking pace, without locking the wheel, and the bike rides anywhere in Steady.",
			"BACK by brakes: Renew the front disc pads; bed new ones in with about 20 slowings from 20 km/h to walking pace, without locking the wheel, and the bike rides at the back in Steady."}},
	} {
		t.Run(name, func(t *testing.T) {
			facts := wholeBike(t)
			for _, change := range c.change {
				change(facts)
			}
			lift := readiness.Lifts(winterBook(t), subject(facts), winterNight(145), evening)
			if got := told(lift); lift.GetStanding() != c.now || lift.GetGroup() != "steady" || !slices.Equal(got, c.want) {
				t.Errorf("%v\ngot\n%s\nwant\n%s", lift.GetStanding(), strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// TestLiftSteps: each step has the whole remedy.
func TestLiftSteps(t *testing.T) {
	facts := wholeBike(t)
	facts.Guards = nil
	lift := readiness.Lifts(book(guardsRule(&pb.GuardsNeed{Front: pb.GuardsNeed_FULL, Rear: pb.GuardsNeed_FULL})), subject(facts), group(0, nil), evening)
	want := &pb.LiftWay{Reaches: pb.Standing_CLEAR, Steps: []*pb.LiftStep{{Rule: "guards", Remedy: "Declare how the front guard is fixed and how the rear guard is fixed."}},
		Words: "Declare how the front guard is fixed and how the rear guard is fixed, and if all is as the rules ask the bike rides anywhere in steady."}
	if len(lift.GetWays()) != 1 || !proto.Equal(lift.GetWays()[0], want) {
		t.Errorf("%v", lift)
	}
}

// TestLiftByCertifyingAgain: a declaration that is too old is mended by certifying again, also where the ride is so far
// off that today would be too early.
func TestLiftByCertifyingAgain(t *testing.T) {
	for name, at := range map[string]time.Time{"the evening before": evening, "weeks before": start.AddDate(0, 0, -60)} {
		t.Run(name, func(t *testing.T) {
			bike := subject(wholeBike(t))
			bike.Declaration.CertifiedAt = timestamppb.New(start.AddDate(0, 0, -70))
			lift := readiness.Lifts(winterBook(t), bike, winterNight(0), at)
			if len(lift.GetWays()) == 0 || !strings.Contains(lift.GetWays()[0].GetWords(), "certify it again") || lift.GetWays()[0].GetReaches() != pb.Standing_CLEAR {
				t.Errorf("%v", lift)
			}
		})
	}
}

// TestLiftOutOfReach: what only the club can put right lifts nothing, and a standing that some work reaches is told all
// the same.
func TestLiftOutOfReach(t *testing.T) {
	own := &pb.Rule{Id: "own", Check: pb.Check_EXPRESSION, When: []pb.Circumstance{pb.Circumstance_ALWAYS}, Otherwise: pb.Rule_BACK,
		Need: &pb.Rule_Expression{Expression: "false"}}
	lamps := lightsRule(&pb.LightsNeed{Rear: 1})
	lift := readiness.Lifts(book(own, lamps), subject(&pb.BikeFacts{}), group(0, nil), evening)
	if got := told(lift); len(got) != 1 || !strings.HasPrefix(got[0], "BACK by lights: ") {
		t.Errorf("%q", got)
	}
}

// TestLiftStays: what keeps a bike from being clear is what no work meets. A rule that work meets is not among it, nor an expression
// that comes true with the work for another rule; where a bike can be cleared, nothing is.
func TestLiftStays(t *testing.T) {
	own := func(id, text string) *pb.Rule {
		return &pb.Rule{Id: id, Check: pb.Check_EXPRESSION, When: []pb.Circumstance{pb.Circumstance_ALWAYS}, Otherwise: pb.Rule_ADVISE,
			Need: &pb.Rule_Expression{Expression: text}}
	}
	guards, lamps := guardsRule(&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL}), lightsRule(&pb.LightsNeed{Rear: 1})
	guards.Otherwise, lamps.Otherwise = pb.Rule_ADVISE, pb.Rule_HOLD
	guarded, vest := own("guarded", "bike.guards.rear.kind == FIXED"), own("vest", "false")
	facts := func() *pb.BikeFacts {
		return &pb.BikeFacts{Guards: &pb.Guards{Rear: &pb.Guard{Kind: pb.Guard_NONE}}}
	}
	for name, c := range map[string]struct {
		rules []*pb.Rule
		want  string
	}{
		"one that no work meets": {[]*pb.Rule{guards, guarded, vest, lamps}, "ADVISED stays vest"},
		"two":                    {[]*pb.Rule{vest, guards, own("bell", "1 > 2"), lamps}, "ADVISED stays vest, bell"},
		"none":                   {[]*pb.Rule{guards, guarded, lamps}, "CLEAR stays "},
		"nothing that work does": {[]*pb.Rule{vest}, "none stays vest"},
	} {
		t.Run(name, func(t *testing.T) {
			lift := readiness.Lifts(book(c.rules...), subject(facts()), group(0, nil), evening)
			best := "none"
			if len(lift.GetWays()) > 0 {
				best = lift.GetWays()[0].GetReaches().String()
			}
			if got := best + " stays " + strings.Join(lift.GetStays(), ", "); got != c.want {
				t.Errorf("%s, want %s; %v", got, c.want, lift)
			}
		})
	}
}

// TestLiftOfManyBrokenRules: beyond the number of rules of which every set is tried there is one way, of which nothing can
// be left out; beyond the number that is tried out at all it is to mend everything.
func TestLiftOfManyBrokenRules(t *testing.T) {
	for _, n := range []int{9, 40, 65, 300} {
		rules := []*pb.Rule{lightsRule(&pb.LightsNeed{Rear: 3})}
		for i := range n - 1 {
			rule := lightsRule(&pb.LightsNeed{Rear: int32(1 + i%2)})
			rule.Id = fmt.Sprintf("lights-%d", i)
			rules = append(rules, rule)
		}
		lift := readiness.Lifts(book(rules...), subject(&pb.BikeFacts{}), group(0, nil), evening)
		want := 1 // three lamps meet every rule
		if n > 64 {
			want = n
		}
		if len(lift.GetWays()) != 1 || len(lift.GetWays()[0].GetSteps()) != want {
			t.Errorf("%d rules: %d ways, %d steps", n, len(lift.GetWays()), len(lift.GetWays()[0].GetSteps()))
		}
	}
}

// TestLiftOnADayWithoutARide: without a group the words name none.
func TestLiftOnADayWithoutARide(t *testing.T) {
	lift := readiness.Lifts(book(guardsRule(&pb.GuardsNeed{RearFlap: true})), subject(&pb.BikeFacts{Guards: &pb.Guards{Rear: &pb.Guard{Kind: pb.Guard_FIXED, Flap: ptr(false)}}}), nil, evening)
	if got := told(lift); !slices.Equal(got, []string{"CLEAR by guards: Fit a flap to the rear guard, and the bike rides anywhere."}) {
		t.Errorf("%q", got)
	}
}
