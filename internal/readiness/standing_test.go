package readiness_test

import (
	"testing"

	"google.golang.org/protobuf/proto"
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

// TestStandingIsThatOfAssess: the fast path says what the findings add up to, whatever the bike; and judging changes
// neither the declaration nor the log.
func TestStandingIsThatOfAssess(t *testing.T) {
	b, whole := winterBook(t), wholeBike(t)
	rapid.Check(t, func(t *rapid.T) {
		bike, g := drawBike(t, whole), drawGroup(t)
		facts := proto.CloneOf(bike.Declaration)
		want := readiness.Assess(b, bike, g, evening).GetStanding()
		if got := readiness.Standing(b, bike, g, evening); got != want {
			t.Fatalf("%v, the findings add up to %v", got, want)
		}
		if !proto.Equal(facts, bike.Declaration) {
			t.Fatal("the declaration was changed")
		}
	})
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
// is not met.
func TestEveryFindingHasWords(t *testing.T) {
	b, whole := winterBook(t), wholeBike(t)
	rapid.Check(t, func(t *rapid.T) {
		for _, f := range readiness.Assess(b, drawBike(t, whole), drawGroup(t), evening).GetFindings() {
			if f.GetNeeded() == "" || f.GetDeclared() == "" || (f.GetRemedy() == "") != (f.GetStanding() == pb.Standing_CLEAR) {
				t.Fatalf("%v", f)
			}
		}
	})
}
