package readiness_test

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// TestWholeBike: nothing is asked of the whole bike by the shipped policy, in the dark or not.
func TestWholeBike(t *testing.T) {
	bike := subject(wholeBike(t))
	for _, litMin := range []float64{0, 300} {
		a := readiness.Assess(winterBook(t), bike, winterNight(litMin), evening)
		for _, f := range a.GetFindings() {
			if f.GetStanding() != pb.Standing_CLEAR {
				t.Errorf("%v min with lights: %v", litMin, f)
			}
		}
	}
}

// TestWhatIsKnownHolds: the shipped policy holds a bike for damage or play that its owner declares, and for neither where
// nothing was declared.
func TestWhatIsKnownHolds(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*pb.BikeFacts)
		want   pb.Standing
	}{
		"a crack not put right":  {func(f *pb.BikeFacts) { f.Cleaning.DamageOpen = "crack at the seat cluster" }, pb.Standing_HELD},
		"never looked over":      {func(f *pb.BikeFacts) { f.Cleaning = nil }, pb.Standing_ADVISED},
		"a crack, looked when?":  {func(f *pb.BikeFacts) { f.Cleaning = &pb.Cleaning{DamageOpen: "crack in the rear rim"} }, pb.Standing_HELD},
		"a loose headset":        {func(f *pb.BikeFacts) { f.Bearings.Headset.Feel = pb.Bearing_LOOSE }, pb.Standing_HELD},
		"a loose bottom bracket": {func(f *pb.BikeFacts) { f.Bearings.BottomBracket.Feel = pb.Bearing_LOOSE }, pb.Standing_HELD},
		"a loose front wheel":    {func(f *pb.BikeFacts) { f.Bearings.FrontHub.Feel = pb.Bearing_LOOSE }, pb.Standing_HELD},
		"a loose rear wheel":     {func(f *pb.BikeFacts) { f.Bearings.RearHub.Feel = pb.Bearing_LOOSE }, pb.Standing_HELD},
		"loose pedals":           {func(f *pb.BikeFacts) { f.Bearings.Pedals.Feel = pb.Bearing_LOOSE }, pb.Standing_ADVISED},
		"a rough headset":        {func(f *pb.BikeFacts) { f.Bearings.Headset.Feel = pb.Bearing_ROUGH }, pb.Standing_ADVISED},
		"no bearing declared":    {func(f *pb.BikeFacts) { f.Bearings = nil }, pb.Standing_ADVISED},
	} {
		t.Run(name, func(t *testing.T) {
			facts := wholeBike(t)
			c.change(facts)
			a := readiness.Assess(winterBook(t), subject(facts), winterNight(0), evening)
			if a.GetStanding() != c.want {
				t.Errorf("%v, want %v: %v", a.GetStanding(), c.want, unmet(a))
			}
		})
	}
}

// TestToldOnce: what to do about damage and play is told by the rule that holds the bike, and the one that advises points at it.
func TestToldOnce(t *testing.T) {
	facts := wholeBike(t)
	facts.Cleaning.DamageOpen, facts.Bearings.Headset.Feel = "crack in the rear rim", pb.Bearing_LOOSE
	got := map[string]string{}
	for _, f := range readiness.Assess(winterBook(t), subject(facts), winterNight(0), evening).GetFindings() {
		if f.GetStanding() != pb.Standing_CLEAR {
			got[f.GetRule()] = f.GetRemedy()
		}
	}
	want := map[string]string{
		"bearings-smooth":       "It comes right with the work for rule bearings-without-play.",
		"bearings-without-play": "Have the play in the headset taken out; where it does not go away a mechanic must look before the bike is ridden.",
		"looked-over":           "It comes right with the work for rule known-damage.",
		"known-damage":          "Put right what was found, or have a mechanic look at it before the bike is ridden, and certify the bike again.",
	}
	if !maps.Equal(got, want) {
		t.Errorf("%v", got)
	}
}

// TestResinOnly: what is advised for a disc marked for resin pads only does not stand against the reason beside it.
func TestResinOnly(t *testing.T) {
	facts := wholeBike(t)
	facts.Brakes.Rear = &pb.Brake{Kind: pb.Brake_DISC, Compound: pb.Brake_SINTERED, ResinOnly: ptr(true), PadMm: ptr(2.0), RotorMm: ptr(1.7),
		BeddedIn: ptr(true), Contaminated: ptr(false), Glazed: ptr(false), LookedOn: "2026-12-10"}
	for _, f := range readiness.Assess(winterBook(t), subject(facts), winterNight(0), evening).GetFindings() {
		switch {
		case f.GetRule() != "brake-pads-for-wet":
		case !strings.Contains(f.GetRemedy(), "no others belong there, though they wear fast in the wet"),
			!strings.HasPrefix(f.GetBecause(), "Where the disc takes other pads,"):
			t.Errorf("%v", f)
		default:
			return
		}
	}
	t.Error("no advice about the pads")
}

// TestStandingIsThatOfAssess: the fast paths say what the findings add up to, and which are not met, whatever the bike and whatever rules ask,
// and beside whatever other group;
// and judging changes neither the declaration nor the log.
func TestStandingIsThatOfAssess(t *testing.T) {
	shipped, whole := winterBook(t), wholeBike(t)
	rapid.Check(t, func(t *rapid.T) {
		b := shipped
		if rapid.Bool().Draw(t, "other needs") {
			b = drawNeeds(t, b)
		}
		bike, g, other := drawBike(t, whole), drawGroup(t), drawGroup(t)
		facts := proto.CloneOf(bike.Declaration)
		full := unmet(readiness.Assess(b, bike, g, evening))
		if got, want := readiness.Standing(b, bike, g, evening), full.GetStanding(); got != want {
			t.Fatalf("%v, the findings add up to %v", got, want)
		}
		other.StartAt = timestamppb.New(other.StartAt.AsTime().AddDate(0, 0, rapid.IntRange(0, 40).Draw(t, "days later")))
		slower := proto.CloneOf(g) // of the same days, and longer in the dark
		slower.LitMin, slower.TemperatureMinC = slower.LitMin+float64(rapid.IntRange(1, 60).Draw(t, "minutes longer")), nil
		slower.StartAt = timestamppb.New(slower.StartAt.AsTime().Add(time.Minute))
		groups := rapid.Permutation([]*pb.GroupPlan{g, other, slower, g}).Draw(t, "groups") // what one group leaves behind is not told of the next
		for i, got := range readiness.Unmet(b, bike, groups, evening) {
			if want := unmet(readiness.Assess(b, bike, groups[i], evening)); !proto.Equal(got, want) {
				t.Fatalf("not met alone: %v, of all: %v", got, want)
			}
		}
		if !proto.Equal(facts, bike.Declaration) {
			t.Fatal("the declaration was changed")
		}
	})
}

// unmet is an assessment without what is met, and what does not apply.
func unmet(of *pb.Assessment) *pb.Assessment {
	of.NotApplied = nil
	of.Findings = slices.DeleteFunc(of.Findings, func(f *pb.Finding) bool { return f.Standing == pb.Standing_CLEAR })
	return of
}

// TestRulesMadeReadyOrNot: rules that did not come from NewRule are judged the same.
func TestRulesMadeReadyOrNot(t *testing.T) {
	b, whole := winterBook(t), wholeBike(t)
	raw := b
	raw.Rules = nil
	for _, rule := range b.Rules {
		raw.Rules = append(raw.Rules, readiness.Rule{Rule: rule.Rule, Line: rule.Line})
	}
	rapid.Check(t, func(t *rapid.T) {
		bike, g := drawBike(t, whole), drawGroup(t)
		if got, want := readiness.Assess(raw, bike, g, evening), readiness.Assess(b, bike, g, evening); !proto.Equal(got, want) {
			t.Fatalf("got  %v\nwant %v", got, want)
		}
	})
}

// TestEveryFindingHasWords: whatever the bike, a finding says what is needed and what was declared, and what to do if it
// is not met. What some rules leave to others is said by one of them: never do all point at each other.
func TestEveryFindingHasWords(t *testing.T) {
	shipped, whole := winterBook(t), wholeBike(t)
	rapid.Check(t, func(t *rapid.T) {
		b, other := shipped, rapid.Bool().Draw(t, "other needs")
		if other { // some that no policy file may have, as steady lamps without a number, of which nothing can be said
			b = drawNeeds(t, b)
		}
		unmet, saying := 0, 0
		findings := readiness.Assess(b, drawBike(t, whole), drawGroup(t), evening).GetFindings()
		for _, f := range findings {
			if f.GetStanding() != pb.Standing_CLEAR {
				unmet++
				if !strings.HasPrefix(f.GetRemedy(), "What rule ") {
					saying++
				}
			}
			if !other && (f.GetNeeded() == "" || f.GetDeclared() == "") || (f.GetRemedy() == "") != (f.GetStanding() == pb.Standing_CLEAR) {
				t.Fatalf("%v", f)
			}
		}
		if unmet > 0 && saying == 0 {
			t.Fatalf("no remedy says what to do: %v", findings)
		}
	})
}
