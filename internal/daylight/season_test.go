package daylight_test

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/daylight"
	"gritward/internal/pace"
)

func season(t testing.TB, tl *pace.Timeline, starts []time.Time, r daylight.Rule) []daylight.Outing {
	t.Helper()
	outings, err := daylight.Season(tl, starts, r)
	if err != nil {
		t.Fatal(err)
	}
	return outings
}

// Each outing is what Of and LatestHomeBy say of the ride moved to that start.
func TestSeasonIsTheRideMoved(t *testing.T) {
	z := zone(t, "Europe/London")
	tl := loop(time.Date(2020, 6, 1, 5, 0, 0, 0, time.UTC), 101)
	rapid.Check(t, func(rt *rapid.T) {
		r := daylight.Rule{Begins: rapid.SampledFrom(allRules).Draw(rt, "rule"), Margin: 30 * time.Minute}
		start := time.Date(2026, 10, 1+rapid.IntRange(0, 180).Draw(rt, "day"), rapid.IntRange(6, 18).Draw(rt, "hour"), 0, 0, 0, z)
		got := season(t, tl, []time.Time{start, start.AddDate(0, 0, 7)}, r)
		moved := loop(start, 101)
		if diff := cmp.Diff(of(t, moved, r), got[0].Profile); diff != "" {
			rt.Fatal(diff)
		}
		latest, ok, err := daylight.LatestHomeBy(moved, r, r.Margin)
		if err != nil || ok != (got[0].LatestStart != nil) || ok && !got[0].LatestStart.Equal(latest) {
			rt.Fatalf("latest %v, want %v %v", got[0].LatestStart, latest, err)
		}
		if !got[1].Start.Equal(start.AddDate(0, 0, 7)) {
			rt.Fatalf("second start %v", got[1].Start)
		}
	})
	if !tl.Start().Equal(time.Date(2020, 6, 1, 5, 0, 0, 0, time.UTC)) {
		t.Error("the caller's timeline was moved")
	}
}

// Sunsets of testdata/sun/events.csv (IAU SOFA routines; see its README): a group that stands at the place is home as
// long before dark as the reference says, and may set off until the reference less ride and margin.
func TestSeasonAgainstTheReference(t *testing.T) {
	const takes, margin = 2 * time.Hour, 30 * time.Minute
	checked := 0
	for _, row := range events(t) {
		month, _ := strconv.Atoi(row["date"][5:7])
		lat, _ := strconv.ParseFloat(row["lat"], 64)
		lon, _ := strconv.ParseFloat(row["lon"], 64)
		if row["sunset_utc"] == "none" || lat < 0 || lat > 60 || month > 3 && month < 10 || math.Abs(lon) > 90 {
			continue
		}
		sunset, noon := clock(t, row["sunset_utc"]), clock(t, row["solar_noon_utc"])
		z := zone(t, row["tz"])
		tl := stay(time.Date(2020, 1, 1, 0, 0, 0, 0, z), time.Date(2020, 1, 1, 0, 0, 0, 0, z).Add(takes), lat, lon)
		o := season(t, tl, []time.Time{noon.Add(-takes).In(z)}, daylight.Rule{Margin: margin})[0]
		if off := o.MarginToDark - sunset.Sub(noon); off.Abs() > 8*time.Second {
			t.Errorf("%s %s: margin %v, the reference has %v", row["place"], row["date"], o.MarginToDark, sunset.Sub(noon))
		}
		if o.LatestStart == nil || !near(*o.LatestStart, sunset.Add(-takes-margin), 8*time.Second) {
			t.Errorf("%s %s: latest start %v, the reference has %v", row["place"], row["date"], o.LatestStart, sunset.Add(-takes-margin))
		}
		checked++
	}
	if checked < 20 {
		t.Errorf("only %d rows checked", checked)
	}
}

// Where the sun rises and sets all year, the margin of a ride at a fixed hour of a zone without summer time shrinks
// until the earliest sunset, in the fortnight before the solstice, and grows after it.
func TestSeasonShrinksThenGrows(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		year := rapid.IntRange(2024, 2035).Draw(rt, "year")
		lat := rapid.Float64Range(45, 60).Draw(rt, "lat_deg")
		first := time.Date(year, 10, 1, 9, 0, 0, 0, time.UTC)
		var starts []time.Time
		for day := 0; day < 165; day += 3 { // to the middle of March
			starts = append(starts, first.AddDate(0, 0, day))
		}
		outings := season(t, stay(first, first.Add(3*time.Hour), lat, 0), starts, daylight.Rule{})
		shortest := 0
		for i := range outings {
			if outings[i].MarginToDark < outings[shortest].MarginToDark {
				shortest = i
			}
		}
		solstice := time.Date(year, 12, 21, 9, 0, 0, 0, time.UTC)
		if ahead := solstice.Sub(starts[shortest]); ahead < 0 || ahead > 18*24*time.Hour {
			rt.Fatalf("shortest on %v", starts[shortest])
		}
		for i := 1; i < len(outings); i++ {
			if shrinks := outings[i].MarginToDark < outings[i-1].MarginToDark; shrinks != (i <= shortest) {
				rt.Fatalf("%v: %v after %v", starts[i], outings[i].MarginToDark, outings[i-1].MarginToDark)
			}
		}
	})
}

func TestSeasonRefusals(t *testing.T) {
	tl, ok := loop(clock(t, "2026-01-04T09:00:00Z"), 11), clock(t, "2026-01-04T09:00:00Z")
	for want, ask := range map[string]func() error{
		"fewer than two instants": func() error { _, err := daylight.Season(nil, []time.Time{ok}, daylight.Rule{}); return err },
		"unknown rule 7":          func() error { _, err := daylight.Season(tl, nil, daylight.Rule{Begins: 7}); return err },
		"margin -1s":              func() error { _, err := daylight.Season(tl, nil, daylight.Rule{Margin: -time.Second}); return err },
		"the start 2200-01-01T09:00:00Z: daylight: the ride's date: sun: year 2200": func() error {
			_, err := daylight.Season(tl, []time.Time{ok, time.Date(2200, 1, 1, 9, 0, 0, 0, time.UTC)}, daylight.Rule{})
			return err
		},
	} {
		if err := ask(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v does not say %q", err, want)
		}
	}
	if outings := season(t, tl, nil, daylight.Rule{}); len(outings) != 0 {
		t.Errorf("%d outings of no start", len(outings))
	}
}

// BenchmarkSeason is a winter of 26 Sundays of one group over 10,001 points.
func BenchmarkSeason(b *testing.B) {
	tl := loop(clock(b, "2026-10-04T09:00:00Z"), 10001)
	var starts []time.Time
	for week := range 26 {
		starts = append(starts, tl.Start().AddDate(0, 0, 7*week))
	}
	for b.Loop() {
		season(b, tl, starts, daylight.Rule{Margin: 30 * time.Minute})
	}
}
