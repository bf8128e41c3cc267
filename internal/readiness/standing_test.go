package readiness_test

import (
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
