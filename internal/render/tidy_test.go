package render

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestTidy(t *testing.T) {
	for _, one := range []struct{ text, want string }{
		{"42 km at 24 km/h in 1 h 45 min, 300 m up", "42~km at 24~km/h in 1~h~45~min, 300~m up"},
		{"Sunday 3 December 2026, -2 °C", "Sunday~3~December~2026, −2~°C"},
		{"call 01632 960 961 · 9 riders · 80 %", "call 01632~960~961 · 9~riders · 80~%"},
		{"group 2 leaves", "group 2 leaves"}, {"5 minutes", "5 minutes"}, {"", ""}, {"3 ", "3 "},
	} {
		if got := strings.ReplaceAll(tidy(one.text), noBreak, "~"); got != one.want {
			t.Errorf("tidy(%q) is %q, want %q", one.text, got, one.want)
		}
	}
}

// TestTidyClauses finds in the clauses of drawn texts what the pattern finds in the whole of them.
func TestTidyClauses(t *testing.T) {
	piece := rapid.SampledFrom([]string{"1", "42", "2026", " ", " ", " ", "km", "km/h", "h", "min", "m", "°C", "%", "Sunday", "Mon", "3", "December", "Dec", "+44", "960", "riders", "rider",
		",", ".", ":", "-", "–", "·", "(", ")", "/", "_", "x", "é", noBreak, "\x00", "\xff", "\n"})
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(piece, 0, 30).Draw(t, "text"), "")
		if strings.Contains(text, "°C") {
			text = strings.ReplaceAll(text, "-", "") // minus signs are another pattern's
		}
		whole := together().ReplaceAllStringFunc(text, func(m string) string { return strings.ReplaceAll(m, " ", noBreak) })
		if got := tidy(text); got != whole {
			t.Fatalf("%q comes to %q, want %q", text, got, whole)
		}
	})
}
