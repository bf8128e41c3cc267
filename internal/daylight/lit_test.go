package daylight_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/daylight"
)

// TestLitIsThatOfTheRideMoved: what is reckoned of a ride that sets off later is what the profile of the ride moved says.
func TestLitIsThatOfTheRideMoved(t *testing.T) {
	z := zone(t, "Europe/London")
	rapid.Check(t, func(rt *rapid.T) {
		r := daylight.Rule{Begins: rapid.SampledFrom(allRules).Draw(rt, "rule"), Margin: time.Duration(rapid.IntRange(0, 90).Draw(rt, "margin_min")) * time.Minute}
		tl := loop(time.Date(2026, 10, 1+rapid.IntRange(0, 200).Draw(rt, "day"), 6, 0, 0, 0, z), 41)
		later := time.Duration(rapid.IntRange(-3600, 18*3600).Draw(rt, "later_s")) * time.Second
		var poor []daylight.Interval
		for range rapid.IntRange(0, 2).Draw(rt, "fogs") {
			from := tl.Start().Add(time.Duration(rapid.IntRange(-300, 1500).Draw(rt, "fog_min")) * time.Minute)
			poor = append(poor, daylight.Interval{From: from, To: from.Add(time.Hour)})
		}
		moved := tl.Shift(later)
		inAll, byTheSun, err := daylight.Lit(tl, later, r, poor)
		if err != nil {
			rt.Fatal(err)
		}
		if want := of(t, moved, r, poor...).LitFor; inAll != want {
			rt.Errorf("lights for %v, the profile says %v", inAll, want)
		}
		if want := of(t, moved, r).LitFor; byTheSun != want {
			rt.Errorf("lights for %v by the sun, the profile says %v", byTheSun, want)
		}
	})
	if _, _, err := daylight.Lit(loop(time.Date(2026, 12, 13, 9, 0, 0, 0, z), 5), 0, daylight.Rule{Begins: 9}, nil); err == nil {
		t.Error("a rule that is none was taken")
	}
}
