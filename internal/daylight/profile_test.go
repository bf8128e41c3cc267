package daylight_test

import (
	"strconv"
	"testing"
	"time"

	"gritward/internal/daylight"
	"gritward/internal/pace"
	"gritward/internal/sun"
)

var allRules = []daylight.Begins{daylight.Sunset, daylight.LightingUp, daylight.CivilDusk}

// Oracle: sunset, sunrise and civil twilight of 200 days from the IAU SOFA
// routines. A group that stands still from 11 hours before solar noon to 11 hours
// after is dark exactly outside them.
func TestStandingStillAgainstReference(t *testing.T) {
	checked := 0
	for _, row := range events(t) {
		lat, _ := strconv.ParseFloat(row["lat"], 64)
		lon, _ := strconv.ParseFloat(row["lon"], 64)
		rate, err := strconv.ParseFloat(row["slowest_rate_deg_per_min"], 64)
		if err != nil || rate < 0.05 {
			continue // polar days, tested apart
		}
		noon := clock(t, row["solar_noon_utc"])
		tl := stay(noon.Add(-11*time.Hour), noon.Add(11*time.Hour), lat, lon)
		for _, b := range allRules {
			dawn, dusk, off := "sunrise_utc", "sunset_utc", time.Duration(0)
			switch b {
			case daylight.CivilDusk:
				dawn, dusk = "civil_dawn_utc", "civil_dusk_utc"
			case daylight.LightingUp:
				off = 30 * time.Minute
			}
			if row[dawn] == "none" || row[dusk] == "none" {
				continue
			}
			wantEnd, wantBegin := clock(t, row[dawn]).Add(-off), clock(t, row[dusk]).Add(off)
			if wantEnd.Before(tl.Start()) || wantBegin.After(tl.Home()) {
				continue
			}
			p := of(t, tl, daylight.Rule{Begins: b})
			slack := 2*time.Second + time.Duration(0.6/rate*float64(time.Second))
			var begin, end time.Time
			for _, s := range p.Spans {
				if s.Dark && s.From.Before(noon) {
					end = s.To
				}
				if s.Dark && s.From.After(noon) && begin.IsZero() {
					begin = s.From
				}
			}
			if !near(end, wantEnd, slack) || !near(begin, wantBegin, slack) {
				t.Errorf("%s %s %v: dark ends %v (want %v), begins %v (want %v)", row["date"], row["place"], b, end, wantEnd, begin, wantBegin)
			}
			checked++
		}
	}
	if checked < 300 {
		t.Errorf("only %d profiles checked", checked)
	}
}

// The three clocks of 21 December 2025, computed from the definitions by
// another program (UTC).
func TestThreeClocks(t *testing.T) {
	for name, c := range map[string]struct {
		lat, lon float64
		want     [3]string // sunset, lighting-up, civil dusk
	}{
		"London":    {51.5074, -0.1278, [3]string{"15:53:32", "16:23:32", "16:33:52"}},
		"Edinburgh": {55.9533, -3.1883, [3]string{"15:39:44", "16:09:44", "16:27:07"}},
	} {
		for i, b := range allRules {
			tl := stay(clock(t, "2025-12-21T12:00:00Z"), clock(t, "2025-12-21T20:00:00Z"), c.lat, c.lon)
			p := of(t, tl, daylight.Rule{Begins: b})
			if want := clock(t, "2025-12-21T"+c.want[i]+"Z"); p.FirstDark == nil || !near(*p.FirstDark, want, 3*time.Second) {
				t.Errorf("%s, %v: dark from %v, want %v", name, b, p.FirstDark, want)
			}
		}
	}
}

// plainDark decides dark from the sun package's sunrise and sunset at one
// place, the way the rule is worded, for an ordinary day.
func plainDark(t *testing.T, b daylight.Begins, at time.Time, p sun.Place) bool {
	t.Helper()
	day, err := sun.On(at.Year(), at.Month(), at.Day(), time.UTC, p)
	if err != nil {
		t.Fatal(err)
	}
	from, to := *day.Sunset, *day.Sunrise
	switch b {
	case daylight.CivilDusk:
		from, to = *day.CivilDusk, *day.CivilDawn
	case daylight.LightingUp:
		from, to = from.Add(30*time.Minute), to.Add(-30*time.Minute)
	}
	return at.After(from) || at.Before(to)
}

// Second by second near each change, a moving group's spans must agree with
// the wording of the rule at the place where the group is.
func TestMovingGroup(t *testing.T) {
	for _, b := range allRules {
		t.Run(b.String(), func(t *testing.T) {
			for _, start := range []string{"2026-01-04T05:30:00Z", "2026-01-04T12:40:00Z"} {
				tl := loop(clock(t, start), 2001)
				p := of(t, tl, daylight.Rule{Begins: b})
				changes := 0
				for i, s := range p.Spans {
					if i == 0 || s.Dark == p.Spans[i-1].Dark {
						continue
					}
					changes++
					for _, off := range []time.Duration{-2 * time.Second, 2 * time.Second} {
						at := s.From.Add(off)
						in := tl.AtTime(at)
						want := plainDark(t, b, at, sun.Place{LatDeg: in.LatDeg, LonDeg: in.LonDeg})
						if got := s.Dark == (off > 0); got != want {
							t.Errorf("%v: dark %v, by the rule's wording %v", at, got, want)
						}
					}
				}
				if changes != 1 {
					t.Errorf("start %s: dark changes %d times, want once", start, changes)
				}
			}
		})
	}
}

// Riding east into the dusk, dark comes sooner than to somebody left behind.
func TestEastwardMeetsDarkSooner(t *testing.T) {
	from := clock(t, "2026-01-04T13:00:00Z")
	east := &pace.Timeline{Instants: []pace.Instant{
		{At: from, LatDeg: 54, LonDeg: -2},
		{At: from.Add(4 * time.Hour), DistM: 98e3, LatDeg: 54, LonDeg: -0.5},
	}}
	rode, stood := of(t, east, daylight.Rule{}), of(t, stay(from, from.Add(4*time.Hour), 54, -2), daylight.Rule{})
	// 1.5 deg in 4 h; dark after about 3 h, so about 1.1 deg or 4.4 min sooner.
	if sooner := stood.FirstDark.Sub(*rode.FirstDark); sooner < 4*time.Minute || sooner > 5*time.Minute {
		t.Errorf("dark %v sooner", sooner)
	}
}

func TestSpansFillTheRide(t *testing.T) {
	start := clock(t, "2026-01-04T12:40:00Z")
	fog := daylight.Interval{From: start.Add(-time.Hour), To: start.Add(20 * time.Minute)}
	p := of(t, loop(start, 501), daylight.Rule{Margin: 30 * time.Minute}, fog)
	at, dark, lit, stopped := p.Start, time.Duration(0), time.Duration(0), time.Duration(0)
	for i, s := range p.Spans {
		if !s.From.Equal(at) || !s.To.After(s.From) {
			t.Fatalf("span %d does not follow: %+v", i, s)
		}
		if i > 0 {
			prev := p.Spans[i-1]
			if prev.Sky == s.Sky && prev.Dark == s.Dark && prev.Lit == s.Lit && prev.Stopped == s.Stopped {
				t.Errorf("spans %d and %d do not differ: %+v", i-1, i, s)
			}
		}
		if s.Dark && !s.Lit {
			t.Errorf("dark without lights: %+v", s)
		}
		length := s.To.Sub(s.From)
		for sum, yes := range map[*time.Duration]bool{&dark: s.Dark, &lit: s.Lit, &stopped: s.Stopped} {
			if yes {
				*sum += length
			}
		}
		at = s.To
	}
	if !at.Equal(p.Home) || dark != p.DarkFor || lit != p.LitFor || stopped != 30*time.Minute {
		t.Errorf("ends %v, dark %v of %v, lit %v of %v, stopped %v", at, dark, p.DarkFor, lit, p.LitFor, stopped)
	}
	wantLit := p.DarkFor + 30*time.Minute + 20*time.Minute // dark, margin, fog within the ride
	if d := (p.LitFor - wantLit).Abs(); d > time.Second {
		t.Errorf("lit for %v, want %v", p.LitFor, wantLit)
	}
	if !p.FirstLit.Equal(p.Start) || !p.LastLit.Equal(p.Home) || !p.LastDark.Equal(p.Home) {
		t.Errorf("first lit %v, last lit %v, last dark %v", p.FirstLit, p.LastLit, p.LastDark)
	}
}

// A dawn start: dark until sunrise, and lights for the margin after it.
func TestDawnStart(t *testing.T) {
	z := zone(t, "Europe/London")
	start := time.Date(2026, 1, 4, 7, 0, 0, 0, z)
	p := of(t, stay(start, start.Add(3*time.Hour), 51.5074, -0.1278), daylight.Rule{Margin: 15 * time.Minute})
	day, err := sun.On(2026, 1, 4, z, sun.Place{LatDeg: 51.5074, LonDeg: -0.1278})
	if err != nil {
		t.Fatal(err)
	}
	if !p.FirstDark.Equal(start) || !near(*p.LastDark, *day.Sunrise, time.Second) {
		t.Errorf("dark %v to %v, sunrise %v", p.FirstDark, p.LastDark, day.Sunrise)
	}
	if !near(*p.LastLit, day.Sunrise.Add(15*time.Minute), time.Second) {
		t.Errorf("lights until %v", p.LastLit)
	}
	if !near(*p.SunsetAtHome, *day.Sunset, time.Second) || p.SunsetAtHome.Location() != z {
		t.Errorf("sunset at home %v, want %v", p.SunsetAtHome, day.Sunset)
	}
	if want := day.Sunset.Sub(p.Home); (p.MarginToDark - want).Abs() > time.Second {
		t.Errorf("margin to dark %v, want %v", p.MarginToDark, want)
	}
	states := []daylight.State{daylight.Twilight, daylight.Twilight, daylight.Day, daylight.Day}
	if day.CivilDawn.After(start) {
		states[0] = daylight.Night
	}
	if len(p.Spans) != len(states) {
		t.Fatalf("spans %+v", p.Spans)
	}
	for i, want := range states {
		if p.Spans[i].Sky != want {
			t.Errorf("span %d is %v, want %v", i, p.Spans[i].Sky, want)
		}
	}
}

// The margin reaches a ride that itself stays in the light.
func TestMarginBeforeTheRideAndAfterIt(t *testing.T) {
	for name, c := range map[string][2]string{
		"home 20 min before sunset": {"2025-12-21T12:00:00Z", "2025-12-21T15:33:32Z"},
		"off 20 min after sunrise":  {"2025-12-21T08:24:00Z", "2025-12-21T11:00:00Z"},
	} {
		p := of(t, stay(clock(t, c[0]), clock(t, c[1]), 51.5074, -0.1278), daylight.Rule{Margin: 30 * time.Minute})
		if p.DarkFor != 0 || p.FirstDark != nil || (p.LitFor-10*time.Minute).Abs() > time.Minute {
			t.Errorf("%s: dark for %v, lit for %v", name, p.DarkFor, p.LitFor)
		}
	}
}

func TestPoorVisibilityOverlaps(t *testing.T) {
	start := clock(t, "2026-01-04T10:00:00Z")
	minute := func(a, b int) daylight.Interval {
		return daylight.Interval{From: start.Add(time.Duration(a) * time.Minute), To: start.Add(time.Duration(b) * time.Minute)}
	}
	p := of(t, loop(start, 101), daylight.Rule{}, minute(40, 60), minute(10, 20), minute(15, 30), minute(50, 50), minute(-90, -80))
	if p.LitFor != 40*time.Minute || p.DarkFor != 0 {
		t.Errorf("lit for %v, dark for %v", p.LitFor, p.DarkFor)
	}
	if p.FirstLit.Sub(start) != 10*time.Minute || p.LastLit.Sub(start) != time.Hour {
		t.Errorf("lit %v to %v", p.FirstLit, p.LastLit)
	}
}

func TestPolarNightAndDay(t *testing.T) {
	for _, b := range allRules {
		winter := of(t, stay(clock(t, "2026-12-21T09:00:00Z"), clock(t, "2026-12-21T13:00:00Z"), 78.2, 15.6), daylight.Rule{Begins: b})
		if winter.DarkFor != 4*time.Hour || winter.MarginToDark != -24*time.Hour || winter.DarkAtFinish != nil || winter.SunsetAtHome != nil {
			t.Errorf("%v, polar night: %+v", b, winter)
		}
		summer := of(t, stay(clock(t, "2026-06-21T21:00:00Z"), clock(t, "2026-06-22T03:00:00Z"), 69.6, 18.9), daylight.Rule{Begins: b, Margin: time.Hour})
		if summer.DarkFor != 0 || summer.LitFor != 0 || summer.MarginToDark != 24*time.Hour || summer.DarkAtFinish != nil || len(summer.Spans) != 1 {
			t.Errorf("%v, polar day: %+v", b, summer)
		}
	}
}

// On the last days before polar night the sun is up for less than the hour
// that lighting-up time looks at: dark must still wait half an hour from sunset.
func TestLightingUpAroundAVeryShortDay(t *testing.T) {
	shortDays := 0
	for lat := 66.5; lat < 69; lat += 0.002 {
		p := sun.Place{LatDeg: lat}
		day, err := sun.On(2026, 12, 21, time.UTC, p)
		if err != nil {
			t.Fatal(err)
		}
		if day.Sunrise == nil || day.Sunset == nil || day.Sunset.Sub(*day.Sunrise) > time.Hour {
			continue
		}
		shortDays++
		noon := day.SolarNoon
		got := of(t, stay(noon.Add(-3*time.Hour), noon.Add(3*time.Hour), lat, 0), daylight.Rule{Begins: daylight.LightingUp})
		light := got.Home.Sub(got.Start) - got.DarkFor
		want := day.Sunset.Sub(*day.Sunrise) + time.Hour
		if (light - want).Abs() > 90*time.Second { // 0.001 deg of altitude at a grazing sun
			t.Errorf("latitude %.3f: light for %v, want %v", lat, light, want)
		}
	}
	if shortDays < 5 {
		t.Errorf("only %d short days met", shortDays)
	}
}

func TestMarginToDarkIsNegativeInTheDark(t *testing.T) {
	for name, c := range map[string]struct{ from, home, began string }{
		"evening":     {"2025-12-21T13:00:00Z", "2025-12-21T17:53:32Z", "2025-12-21T15:53:32Z"},
		"before dawn": {"2025-12-22T03:00:00Z", "2025-12-22T05:53:32Z", "2025-12-21T15:53:32Z"},
	} {
		p := of(t, stay(clock(t, c.from), clock(t, c.home), 51.5074, -0.1278), daylight.Rule{})
		want := clock(t, c.began).Sub(p.Home)
		if (p.MarginToDark-want).Abs() > 3*time.Second || !near(*p.DarkAtFinish, clock(t, c.began), 3*time.Second) {
			t.Errorf("%s: margin %v, want %v", name, p.MarginToDark, want)
		}
	}
}
