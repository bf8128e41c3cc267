package cli_test

import (
	"math"
	"testing"
	"time"

	"gritward/internal/cli"
)

// FuzzFlags: whatever is typed, the readers of flags give an error or a finite number, and a start in one form.
func FuzzFlags(f *testing.F) {
	for _, seed := range []string{"steady:24:Steady", "32.5:30:Mill", "12:Ford", "22-27", "2026-12-13 09:00", "NaN:1:x", "1e308:1:x", "0x1p4:1",
		"a:20,min=4,leader=x", "12:00 temperature=3 wet=true", "0.4%", "2026-02-30"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		finite := func(what string, v float64, err error) {
			if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
				t.Errorf("%s takes %q as %v", what, text, v)
			}
		}
		if group, _, err := cli.GroupOf(text); err == nil {
			finite("group", group.PaceKmh, err)
		}
		if stop, err := cli.StopOf(text); err == nil {
			finite("stop", stop.AtDistanceM, err)
		}
		if place, err := cli.PlaceOf("hazard", text); err == nil {
			finite("hazard", place.AtDistanceM, err)
		}
		if later, err := cli.LaterOf(text, "2026-12-13T09:00", false); err == nil {
			finite("later", later.Weather.GetTemperatureC(), err)
		}
		amount, err := cli.AmountOf("wear", text, "%")
		finite("wear", amount, err)
		if day, err := cli.DateOf("on", text); err == nil && day.Format(time.DateOnly) != text {
			t.Errorf("%q is read as %s", text, day)
		}
		low, high, err := cli.PaceOf(text)
		finite("pace", low, err)
		finite("pace", high, err)
		if start, err := cli.LocalTime("start", text); err == nil {
			if again, err := cli.LocalTime("start", start); err != nil || again != start {
				t.Errorf("%q gives %q, which gives %q, %v", text, start, again, err)
			}
		}
	})
}
