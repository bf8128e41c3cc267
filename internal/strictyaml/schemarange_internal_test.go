package strictyaml

import (
	"fmt"
	"regexp"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// TestRangePattern: the pattern agrees with arithmetic, for numbers around both ends and anywhere.
func TestRangePattern(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.IntRange(-50, 12_000).Draw(t, "low")
		high := low + rapid.SampledFrom([]int{0, 1, 9, 30, 99, 100, 980, 10_000}).Draw(t, "width")
		if low < 0 && high < 0 {
			high = 0 // the protocol has no range wholly below zero
		}
		pattern := regexp.MustCompile("^" + rangePattern(float64(low), float64(high)) + "$")
		for _, near := range []int{low, high, rapid.IntRange(-60, 23_000).Draw(t, "anywhere")} {
			for _, tenths := range []int{-11, -10, -1, 0, 1, 10, 11} {
				x := near*10 + tenths
				text := strconv.FormatFloat(float64(x)/10, 'f', -1, 64)
				if want, got := low*10 <= x && x <= high*10, pattern.MatchString(text); got != want {
					t.Fatalf("%s in %d to %d: %v; %s", text, low, high, got, pattern)
				}
			}
		}
	})
}

// TestRangePatternEnds: each range that the protocol has, written out.
func TestRangePatternEnds(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		yes, no   []string
	}{
		{0, 30, []string{"0", "-0", "-0.0", "30", "30.00", "29.999", "9"}, []string{"-1", "30.01", "31", "300", "030", "1.", ".5", "+1", "1e1"}},
		{0.1, 3, []string{"0.1", "0.75", "3"}, []string{"3.1", "-0.1"}},
		{-40, 20, []string{"-40", "-39.9", "-0", "0", "20"}, []string{"-40.1", "20.5", "--1"}},
		{1, 10000, []string{"1", "1.5", "9999.9", "10000"}, []string{"0.9", "10000.1", "10001", "0"}},
	} {
		pattern := regexp.MustCompile("^" + rangePattern(c.low, c.high) + "$")
		for _, text := range c.yes {
			if !pattern.MatchString(text) {
				t.Errorf("%v to %v: %s is refused", c.low, c.high, text)
			}
		}
		for _, text := range c.no {
			if pattern.MatchString(text) {
				t.Errorf("%v to %v: %s is taken", c.low, c.high, text)
			}
		}
	}
	if got, want := fmt.Sprint(wholeNumbers(18, 59)), "[1[8-9] [2-5][0-9]]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
