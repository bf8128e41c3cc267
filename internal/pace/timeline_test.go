package pace_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/pace"
)

// ride goes 1 km in 2 min, stands 3 min, and goes 3 km over the date line in 5 min.
func ride() *pace.Timeline {
	at := func(min int) time.Time { return start.Add(time.Duration(min) * time.Minute) }
	return &pace.Timeline{Instants: []pace.Instant{
		{At: at(0), DistM: 0, LatDeg: 10, LonDeg: 179.98},
		{At: at(2), DistM: 1000, LatDeg: 10, LonDeg: 179.99, Stop: "Tea"},
		{At: at(5), DistM: 1000, LatDeg: 10, LonDeg: 179.99, Stop: "Tea"},
		{At: at(10), DistM: 4000, LatDeg: 10.01, LonDeg: -179.98},
	}}
}

func TestAtTime(t *testing.T) {
	for _, c := range []struct {
		name     string
		sec      int
		distM    float64
		lat, lon float64
		stop     string
	}{
		{"before", -60, 0, 10, 179.98, ""},
		{"start", 0, 0, 10, 179.98, ""},
		{"under way", 60, 500, 10, 179.985, ""},
		{"arriving", 120, 1000, 10, 179.99, "Tea"},
		{"standing", 200, 1000, 10, 179.99, "Tea"},
		{"just off", 301, 1010, 10 + 0.01/300, 179.9901, ""},
		{"on the far side", 500, 3000, 10 + 0.01*200/300, -179.99, ""},
		{"home", 600, 4000, 10.01, -179.98, ""},
		{"after", 9999, 4000, 10.01, -179.98, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			at := start.Add(time.Duration(c.sec) * time.Second)
			in := ride().AtTime(at)
			near(t, "DistM", in.DistM, c.distM, 1e-6)
			near(t, "LatDeg", in.LatDeg, c.lat, 1e-9)
			near(t, "LonDeg", in.LonDeg, c.lon, 1e-9)
			if in.Stop != c.stop || !in.At.Equal(at) {
				t.Errorf("stop %q at %s, want %q at %s", in.Stop, in.At, c.stop, at)
			}
		})
	}
}

func TestAtDist(t *testing.T) {
	for dist, sec := range map[float64]float64{-1: 0, 0: 0, 250: 30, 1000: 120, 1010: 301, 4000: 600, 9999: 600} {
		near(t, "seconds", ride().AtDist(dist).Sub(start).Seconds(), sec, 1e-6)
	}
	if at := ride().AtDist(math.NaN()); !at.Equal(ride().Home()) {
		t.Errorf("no distance: %s", at)
	}
}

func TestShiftLeavesTheOriginal(t *testing.T) {
	tl := ride()
	late := tl.Shift(-90 * time.Minute)
	if !tl.Start().Equal(start) || !late.Start().Equal(start.Add(-90*time.Minute)) || took(tl) != took(late) {
		t.Errorf("start %s, shifted %s", tl.Start(), late.Start())
	}
}

// Where one is at the moment of reaching a distance is at that distance.
func TestAtDistAndAtTimeAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := country(t)
		tl := plan(t, r, group(rapid.Float64Range(5, 60).Draw(t, "pace")), []pace.Stop{{Name: "Tea", AtM: r.DistanceM / 3, For: time.Minute}})
		dist := rapid.Float64Range(0, 1).Draw(t, "share") * r.DistanceM
		if got := tl.AtTime(tl.AtDist(dist)).DistM; math.Abs(got-dist) > 1e-6 {
			t.Fatalf("asked for %g, got %g", dist, got)
		}
	})
}

// Whatever the weather does on the way, who starts later is later everywhere.
func TestLaterStartIsLaterEverywhere(t *testing.T) {
	r := line(t, 400, 100, 30, hilly)
	rapid.Check(t, func(rt *rapid.T) {
		var weather []pace.Spell
		for hour := range rapid.IntRange(1, 6).Draw(rt, "spells") {
			weather = append(weather, pace.Spell{From: start.Add(time.Duration(hour)*time.Hour + time.Duration(rapid.IntRange(0, 3599).Draw(rt, "from_s"))*time.Second),
				Air: pace.Air{WindKmh: rapid.Float64Range(0, 60).Draw(rt, "wind"), WindFromDeg: rapid.Float64Range(0, 360).Draw(rt, "from_deg"),
					Wet: rapid.Bool().Draw(rt, "wet"), Icy: rapid.Bool().Draw(rt, "icy")}})
		}
		tea := []pace.Stop{{Name: "Tea", AtM: rapid.Float64Range(0, r.DistanceM).Draw(rt, "at_m"), For: 20 * time.Minute}}
		first := start.Add(time.Duration(rapid.IntRange(0, 4*3600).Draw(rt, "start_s")) * time.Second)
		a, err := pace.Plan(r, group(22), first, tea, weather)
		if err != nil {
			rt.Fatal(err)
		}
		b, err := pace.Plan(r, group(22), first.Add(time.Second), tea, weather)
		if err != nil {
			rt.Fatal(err)
		}
		for i, in := range a.Instants {
			if i > 0 && !in.At.After(a.Instants[i-1].At) {
				rt.Fatalf("instant %d at %s is not after the one before", i, in.At)
			}
			if later := b.AtDist(in.DistM); !later.After(a.AtDist(in.DistM)) {
				rt.Fatalf("at %g m: %s, a second later %s", in.DistM, a.AtDist(in.DistM), later)
			}
		}
	})
}
