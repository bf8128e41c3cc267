package sun_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/sun"
)

func TestOnRefusesBadInput(t *testing.T) {
	fine := sun.Place{LatDeg: 54, LonDeg: -2}
	samoa := zone(t, "Pacific/Apia")
	for name, c := range map[string]struct {
		year  int
		month time.Month
		day   int
		zone  *time.Location
		p     sun.Place
		want  string
	}{
		"latitude NaN":     {2026, 1, 4, time.UTC, sun.Place{LatDeg: math.NaN()}, "latitude NaN"},
		"latitude high":    {2026, 1, 4, time.UTC, sun.Place{LatDeg: 90.001}, "latitude 90.001"},
		"latitude inf":     {2026, 1, 4, time.UTC, sun.Place{LatDeg: math.Inf(-1)}, "latitude -Inf"},
		"longitude NaN":    {2026, 1, 4, time.UTC, sun.Place{LonDeg: math.NaN()}, "longitude NaN"},
		"longitude low":    {2026, 1, 4, time.UTC, sun.Place{LonDeg: -180.5}, "longitude -180.5"},
		"no zone":          {2026, 1, 4, nil, fine, "no time zone"},
		"30 February":      {2026, 2, 30, time.UTC, fine, "no 2026-02-30"},
		"month 13":         {2026, 13, 1, time.UTC, fine, "no 2026-13-01"},
		"day the zone cut": {2011, 12, 30, samoa, fine, "no 2011-12-30"},
		"year 0":           {0, 1, 1, time.UTC, fine, "year 0"},
		"year 99999":       {99999, 1, 1, time.UTC, fine, "year 99999"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := sun.On(c.year, c.month, c.day, c.zone, c.p)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v does not say %q", err, c.want)
			}
		})
	}
}

func TestBadPlacesWithoutAnError(t *testing.T) {
	at := time.Date(2026, 1, 4, 12, 0, 0, 0, time.UTC)
	for _, p := range []sun.Place{{LatDeg: math.NaN()}, {LatDeg: -91}, {LonDeg: math.Inf(1)}} {
		if alt, az := sun.AltitudeDeg(at, p), sun.AzimuthDeg(at, p); !math.IsNaN(alt) || !math.IsNaN(az) {
			t.Errorf("%+v: altitude %v, azimuth %v, want NaN", p, alt, az)
		}
		if got := sun.Crossings(at, at.AddDate(0, 0, 2), p, 0); got != nil {
			t.Errorf("%+v: crossings %v", p, got)
		}
	}
}

// At the poles the sun crosses the horizon twice a year; nothing may be missed
// or invented for want of daily culminations.
func TestPolesCrossTwiceAYear(t *testing.T) {
	from := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for name, lat := range map[string]float64{"north": 90, "south": -90} {
		t.Run(name, func(t *testing.T) {
			got := sun.Crossings(from, from.AddDate(1, 0, 0), sun.Place{LatDeg: lat}, 0)
			if len(got) != 2 || got[0].Rising != (lat > 0) || got[1].Rising == got[0].Rising {
				t.Errorf("crossings %v", got)
			}
		})
	}
}

// The London winter of 2025-26 as computed from the definitions by another
// program: earliest sunset 12 Dec, shortest day 21 Dec, latest sunrise 30 Dec.
func TestTurningDaysOfALondonWinter(t *testing.T) {
	z, p := zone(t, "Europe/London"), sun.Place{LatDeg: 51.5074, LonDeg: -0.1278}
	clock := func(at *time.Time) time.Duration {
		return at.Sub(time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, z))
	}
	var earliest, shortest, latest string
	minSet, minLen, maxRise := 24*time.Hour, 24*time.Hour, time.Duration(0)
	for d := time.Date(2025, 11, 20, 0, 0, 0, 0, z); d.Year() < 2026 || d.Month() < 2; d = d.AddDate(0, 0, 1) {
		day, err := sun.On(d.Year(), d.Month(), d.Day(), z, p)
		if err != nil {
			t.Fatal(err)
		}
		name := d.Format("2 Jan")
		if c := clock(day.Sunset); c < minSet {
			minSet, earliest = c, name
		}
		if l := day.Sunset.Sub(*day.Sunrise); l < minLen {
			minLen, shortest = l, name
		}
		if c := clock(day.Sunrise); c > maxRise {
			maxRise, latest = c, name
		}
	}
	if earliest != "12 Dec" || shortest != "21 Dec" || latest != "30 Dec" {
		t.Errorf("earliest sunset %s, shortest day %s, latest sunrise %s", earliest, shortest, latest)
	}
}

func TestDayProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPlace(t)
		date := time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "unix"), 0).UTC()
		day, err := sun.On(date.Year(), date.Month(), date.Day(), time.FixedZone("", int(p.LonDeg*240)), p)
		if err != nil {
			t.Fatal(err)
		}
		var last time.Time
		for _, at := range []*time.Time{day.CivilDawn, day.Sunrise, &day.SolarNoon, day.Sunset, day.CivilDusk} {
			if at == nil {
				continue
			}
			if at.Before(last) {
				t.Fatalf("events out of order: %+v", day)
			}
			last = *at
		}
		if day.AlwaysUp() && day.NeverUp() {
			t.Fatal("both always up and never up")
		}
	})
}

func anyPlace(t *rapid.T) sun.Place {
	return sun.Place{
		LatDeg: rapid.Float64Range(-90, 90).Draw(t, "lat"),
		LonDeg: rapid.Float64Range(-180, 180).Draw(t, "lon"),
	}
}

// Near the poles the sun may sink a little further after its lower transit and
// rise again within the half day: sunrise is the rising one, sunset the
// falling one.
func TestSunriseRisesAndSunsetFalls(t *testing.T) {
	checked := 0
	for lat := 89.0; lat < 89.9; lat += 0.003 {
		p := sun.Place{LatDeg: lat}
		for _, date := range []time.Time{
			time.Date(2026, 3, 18, 0, 0, 0, 0, time.UTC), time.Date(2026, 9, 24, 0, 0, 0, 0, time.UTC),
			time.Date(2026, 9, 25, 0, 0, 0, 0, time.UTC), time.Date(2026, 9, 26, 0, 0, 0, 0, time.UTC),
		} {
			day, err := sun.On(date.Year(), date.Month(), date.Day(), time.UTC, p)
			if err != nil {
				t.Fatal(err)
			}
			for at, rises := range map[*time.Time]bool{day.Sunrise: true, day.Sunset: false} {
				if at == nil {
					continue
				}
				checked++
				const tick = 10 * time.Second
				if grows := sun.AltitudeDeg(at.Add(tick), p) > sun.AltitudeDeg(at.Add(-tick), p); grows != rises {
					t.Errorf("latitude %.3f, %v: altitude grows %v, want %v", lat, at, grows, rises)
				}
			}
		}
	}
	if checked < 50 {
		t.Errorf("only %d events met", checked)
	}
}
