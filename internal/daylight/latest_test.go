package daylight_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/daylight"
	"gritward/internal/pace"
	"gritward/internal/sun"
)

// Whatever the rule and the margin: setting off at the answer the group is home
// within a second of the margin, and a minute later it is too late.
func TestLatestHomeBy(t *testing.T) {
	z := zone(t, "Europe/London")
	rapid.Check(t, func(rt *rapid.T) {
		day := rapid.IntRange(0, 364).Draw(rt, "day")
		tl := loop(time.Date(2026, 1, 1+day, 9, 0, 0, 0, z), 101)
		r := daylight.Rule{Begins: rapid.SampledFrom(allRules).Draw(rt, "rule")}
		margin := time.Duration(rapid.IntRange(0, 90).Draw(rt, "margin_min")) * time.Minute
		start, ok, err := daylight.LatestHomeBy(tl, r, margin)
		if err != nil || !ok {
			rt.Fatalf("%v %v", ok, err)
		}
		if sy, sm, sd := start.Date(); time.Date(sy, sm, sd, 0, 0, 0, 0, z).Day() != tl.Start().Day() || start.Nanosecond() != 0 {
			rt.Fatalf("start %v is not a whole second of the planned day", start)
		}
		p := of(t, tl.Shift(start.Sub(tl.Start())), r)
		// The start is cut to the second, and each of the two crossings compared is found to better than 0.1 s.
		const slack = 100 * time.Millisecond
		if over := p.MarginToDark - margin; over < -slack || over > time.Second+slack {
			rt.Fatalf("home %v before dark, want %v", p.MarginToDark, margin)
		}
	})
}

func TestLatestHomeByWhereNothingOrEverythingDoes(t *testing.T) {
	hours := func(at string, h int, lat float64) *pace.Timeline {
		from := clock(t, at)
		return stay(from, from.Add(time.Duration(h)*time.Hour), lat, 0)
	}
	for name, c := range map[string]struct {
		tl     *pace.Timeline
		margin time.Duration
		ok     bool
		want   string
	}{
		"polar night":                    {hours("2026-12-21T10:00:00Z", 3, 75), 0, false, ""},
		"day shorter than the margin":    {hours("2026-12-21T10:00:00Z", 3, 60), 7 * time.Hour, false, ""},
		"would start the day before":     {hours("2026-12-21T01:00:00Z", 17, 54), 0, false, ""},
		"polar day, last second":         {hours("2026-06-21T10:00:00Z", 3, 72), time.Hour, true, "2026-06-21T23:59:59Z"},
		"margin that just fits the day":  {hours("2026-12-21T10:00:00Z", 3, 60), 5 * time.Hour, true, ""},
		"home in light with a long ride": {hours("2026-12-21T01:00:00Z", 15, 54), 0, true, ""},
	} {
		t.Run(name, func(t *testing.T) {
			start, ok, err := daylight.LatestHomeBy(c.tl, daylight.Rule{}, c.margin)
			if err != nil || ok != c.ok {
				t.Fatalf("%v %v %v", start, ok, err)
			}
			if c.want != "" && !start.Equal(clock(t, c.want)) {
				t.Errorf("start %v, want %s", start, c.want)
			}
		})
	}
}

// A later start in the afternoon never has less dark, nor needs lights less.
func TestLaterNeverGainsDaylight(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		day := rapid.IntRange(0, 364).Draw(rt, "day")
		start := time.Date(2026, 1, 1+day, 12, 30, 0, 0, time.UTC)
		r := daylight.Rule{
			Begins: rapid.SampledFrom(allRules).Draw(rt, "rule"),
			Margin: time.Duration(rapid.IntRange(0, 60).Draw(rt, "margin_min")) * time.Minute,
		}
		a := rapid.IntRange(0, 330).Draw(rt, "a_min") // home by half past eleven
		b := rapid.IntRange(a, 330).Draw(rt, "b_min")
		tl := loop(start, 101)
		sooner := of(t, tl.Shift(time.Duration(a)*time.Minute), r)
		later := of(t, tl.Shift(time.Duration(b)*time.Minute), r)
		const slack = 100 * time.Millisecond
		if later.DarkFor < sooner.DarkFor-slack || later.LitFor < sooner.LitFor-slack {
			rt.Fatalf("later: dark %v lit %v; sooner: dark %v lit %v", later.DarkFor, later.LitFor, sooner.DarkFor, sooner.LitFor)
		}
	})
}

// The answer is that of trying every second, for conditions that fail in any number of spells: those that begin between
// breaks go on to the next break, as Latest asks for.
func TestLatestFindsTheFirstFailure(t *testing.T) {
	from := clock(t, "2026-01-04T09:00:00Z")
	rapid.Check(t, func(rt *rapid.T) {
		span := rapid.Int64Range(0, 3000).Draw(rt, "span_s")
		breaks := []time.Time{}
		var bad []daylight.Interval
		for range rapid.IntRange(0, 4).Draw(rt, "spells") {
			ends := from.Add(time.Duration(rapid.Int64Range(-int64(time.Minute), int64(time.Hour)).Draw(rt, "ends")))
			begins := ends.Add(-time.Duration(rapid.Int64Range(0, int64(10*time.Minute)).Draw(rt, "before")))
			breaks = append(breaks, ends) // where it begins need not be known
			bad = append(bad, daylight.Interval{From: begins, To: ends})
		}
		asked := 0
		holds := func(at time.Time) (bool, error) {
			asked++
			for _, b := range bad {
				if !at.Before(b.From) && at.Before(b.To) {
					return false, nil
				}
			}
			return true, nil
		}
		got, ok, err := daylight.Latest(from, from.Add(time.Duration(span)*time.Second), breaks, holds)
		if limit := 3*len(breaks) + 20; err != nil || asked > limit {
			rt.Fatalf("%v, asked %d times, at most %d", err, asked, limit)
		}
		want, found := from, false
		for second := range span + 1 {
			at := from.Add(time.Duration(second) * time.Second)
			if well, _ := holds(at); !well {
				break
			}
			want, found = at, true
		}
		if ok != found || ok && !got.Equal(want) {
			rt.Fatalf("%v %v, every second gives %v %v", got, ok, want, found)
		}
	})
}

func TestLatestPassesErrorsOn(t *testing.T) {
	from, broken := clock(t, "2026-01-04T09:00:00Z"), errors.New("no roster")
	for fails := 1; fails <= 3; fails++ {
		calls := 0
		_, ok, err := daylight.Latest(from, from.Add(time.Hour), nil, func(time.Time) (bool, error) {
			if calls++; calls == fails {
				return false, broken
			}
			return calls == 1, nil
		})
		if !errors.Is(err, broken) || ok {
			t.Errorf("call %d failing: %v %v", fails, ok, err)
		}
	}
}

// At a place that stays light or dark nothing changes; else the edges are those of the light there, margin and all.
func TestEdges(t *testing.T) {
	place := sun.Place{LatDeg: 51.5074, LonDeg: -0.1278}
	noon := clock(t, "2026-01-04T12:00:00Z")
	edges, err := daylight.Edges(place, daylight.Rule{Margin: 30 * time.Minute}, []daylight.Interval{{From: noon.Add(time.Hour), To: noon.Add(2 * time.Hour)}},
		noon, noon.Add(8*time.Hour))
	// Sunset at London on 4 January 2026: 16:06 (UTC, from memory, to the minute).
	for i, want := range []string{"13:00", "14:00", "15:36", "16:06"} {
		if err != nil || len(edges) < 4 || !near(edges[i], clock(t, "2026-01-04T"+want+":00Z"), time.Minute) {
			t.Fatalf("edges %v, %v; the %d. should be at %s", edges, err, i+1, want)
		}
	}
	if none, err := daylight.Edges(place, daylight.Rule{}, nil, noon, noon); none != nil || err != nil {
		t.Errorf("%v %v for no time", none, err)
	}
	if _, err := daylight.Edges(sun.Place{LatDeg: 91}, daylight.Rule{}, nil, noon, noon.Add(time.Hour)); err == nil {
		t.Error("a place beyond the pole was taken")
	}
}

func TestRefusals(t *testing.T) {
	good := func() *pace.Timeline { return loop(clock(t, "2026-01-04T09:00:00Z"), 11) }
	bent := func(change func(*pace.Timeline)) *pace.Timeline {
		tl := good()
		change(tl)
		return tl
	}
	late := clock(t, "2026-01-04T15:00:00Z")
	for want, c := range map[string]struct {
		tl   *pace.Timeline
		r    daylight.Rule
		poor []daylight.Interval
	}{
		"fewer than two instants: plan":                        {tl: &pace.Timeline{}},
		"fewer than two":                                       {},
		"instant 3 of the timeline: sun: latitude NaN":         {tl: bent(func(tl *pace.Timeline) { tl.Instants[3].LatDeg = math.NaN() })},
		"instant 2 of the timeline: sun: longitude":            {tl: bent(func(tl *pace.Timeline) { tl.Instants[2].LonDeg = math.Inf(1) })},
		"instant 1 of the timeline (":                          {tl: bent(func(tl *pace.Timeline) { tl.Instants[1].At = tl.Start() })},
		"more than a week":                                     {tl: bent(func(tl *pace.Timeline) { tl.Instants[11].At = late.AddDate(0, 1, 0) })},
		"daylight: the ride's date: sun: year 2200 is outside": {tl: good().Shift(time.Date(2200, 6, 1, 0, 0, 0, 0, time.UTC).Sub(late))},
		"unknown rule 7":                                       {tl: good(), r: daylight.Rule{Begins: 7}},
		"margin -1m0s":                                         {tl: good(), r: daylight.Rule{Margin: -time.Minute}},
		"margin 13h0m0s":                                       {tl: good(), r: daylight.Rule{Margin: 13 * time.Hour}},
		"interval 1 of poor":                                   {tl: good(), poor: []daylight.Interval{{From: late, To: late.Add(-1)}}},
	} {
		if _, err := daylight.Of(c.tl, c.r, c.poor); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Of: error %v does not say %q", err, want)
		}
		if c.poor != nil {
			continue
		}
		if _, _, err := daylight.LatestHomeBy(c.tl, c.r, c.r.Margin); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("LatestHomeBy: error %v does not say %q", err, want)
		}
	}
	holds := func(time.Time) (bool, error) { return true, nil }
	for _, from := range []time.Time{late.Add(1), {}} {
		if _, _, err := daylight.Latest(from, late, nil, holds); err == nil || !strings.Contains(err.Error(), "the second must be the later one") {
			t.Errorf("Latest from %v: error %v", from, err)
		}
	}
}
