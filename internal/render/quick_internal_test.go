package render

import (
	"testing"

	"pgregory.net/rapid"
)

// TestQuickWays: texts that are let through without a closer look would come out of it as they are.
func TestQuickWays(t *testing.T) {
	t.Parallel()
	words := rapid.SampledFrom([]string{"12", "3", "4.5", "km/h", "h", "min", "°C", "-", "(", "Mon", "December", "Dec", "2026", "+44", "700", "a", "é", "  ", "\t", "\u202e", "\x7f", "\x00", noBreak})
	quick := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		s := ""
		for _, word := range rapid.SliceOfN(words, 0, 6).Draw(t, "words") {
			s += word + rapid.SampledFrom([]string{"", " "}).Draw(t, "gap")
		}
		if tame(s) {
			quick["plain"]++
			if got := scrubbed(s); got != s {
				t.Fatalf("%q is taken for plain and would be %q", s, got)
			}
		}
		if !numberBefore(s) {
			quick["numberBefore"]++
			if together().MatchString(s) {
				t.Fatalf("%q holds together and no number is found before a space", s)
			}
		}
	})
	if quick["plain"] == 0 || quick["numberBefore"] == 0 {
		t.Errorf("drew no text that is let through: %v", quick)
	}
}
