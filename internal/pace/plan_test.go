package pace_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/pace"
	"gritward/internal/route"
)

// On the flat, in still air, the ride takes distance over pace: the definition.
func TestFlatStillAirIsDistanceOverPace(t *testing.T) {
	r := line(t, 500, 100, 30, level)
	for _, kmh := range []float64{5, 12.5, 22, 28, 35, 60} {
		want := r.DistanceM / 1000 / kmh
		near(t, "hours", took(plan(t, r, group(kmh), nil)).Hours(), want, 0.001*want)
	}
}

// The speed on each kind of stretch is that of the balance.
func TestPlanFollowsTheBalance(t *testing.T) {
	p := pace.Defaults()
	power := pace.PowerW(p, 25/3.6, 0, 0)
	cold := p
	cold.AirDensityKgM3 = 1.3
	climber := p
	climber.ClimbReserveW = 90
	wind := 20 / 3.6 * p.WindFactor
	slope := func(g float64) func(float64) float64 { return func(d float64) float64 { return 2000 + g*d } }
	for _, c := range []struct {
		name   string
		head   float64
		elev   func(float64) float64
		params pace.Params
		air    pace.Air
		want   float64 // m/s
	}{
		{"headwind", 90, level, p, pace.Air{WindKmh: 20, WindFromDeg: 90}, pace.SpeedMS(p, power, 0, wind)},
		{"tailwind", 90, level, p, pace.Air{WindKmh: 20, WindFromDeg: 270}, pace.SpeedMS(p, power, 0, -wind)},
		{"side wind", 0, level, p, pace.Air{WindKmh: 20, WindFromDeg: 90}, 25 / 3.6},
		{"wind from 60 degrees off", 30, level, p, pace.Air{WindKmh: 20, WindFromDeg: 330}, pace.SpeedMS(p, power, 0, wind/2)},
		{"dense air", 0, level, p, pace.Air{AirDensityKgM3: 1.3}, pace.SpeedMS(cold, power, 0, 0)},
		{"uphill", 0, slope(0.05), p, pace.Air{}, pace.SpeedMS(p, power+40, 0.05, 0)},
		{"uphill, harder", 0, slope(0.05), climber, pace.Air{}, pace.SpeedMS(p, power+90, 0.05, 0)},
		{"slightly uphill, harder", 0, slope(0.01), climber, pace.Air{}, pace.SpeedMS(p, power+22.5, 0.01, 0)},
		{"slightly downhill", 0, slope(-0.005), p, pace.Air{}, pace.SpeedMS(p, power, -0.005, 0)},
		{"downhill", 0, slope(-0.08), p, pace.Air{}, 50 / 3.6},
		{"downhill, wet", 0, slope(-0.08), p, pace.Air{Wet: true}, 40 / 3.6},
		{"downhill, icy", 0, slope(-0.08), p, pace.Air{Wet: true, Icy: true}, 20 / 3.6},
		{"too steep to ride", 0, slope(0.3), p, pace.Air{}, 4 / 3.6},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := line(t, 200, 20, c.head, c.elev)
			tl := plan(t, r, pace.Group{PaceKmh: 25, Params: c.params}, nil, spell(c.air))
			got := r.DistanceM / took(tl).Seconds()
			near(t, "speed", got, c.want, 0.002*c.want)
		})
	}
}

// East over the date line, against an east wind.
func TestPlanOverTheDateLine(t *testing.T) {
	coords := []route.Coord{{LatDeg: 52, LonDeg: 179.99}, {LatDeg: 52, LonDeg: -179.99}}
	r, err := route.New("over", coords, nil)
	if err != nil {
		t.Fatal(err)
	}
	p := pace.Defaults()
	want := pace.SpeedMS(p, group(25).PowerW(), 0, 20/3.6*p.WindFactor)
	tl := plan(t, r, group(25), nil, spell(pace.Air{WindKmh: 20, WindFromDeg: 90}))
	near(t, "speed", r.DistanceM/took(tl).Seconds(), want, 0.005*want)
	for _, in := range tl.Instants {
		if math.Abs(in.LonDeg) < 179.98 || math.Abs(in.LonDeg) > 180 {
			t.Errorf("longitude %g", in.LonDeg)
		}
	}
}

func TestPlanTakesEachSpellFromItsMoment(t *testing.T) {
	r := line(t, 300, 100, 0, level)
	against := pace.Air{WindKmh: 30, WindFromDeg: 0}
	late := pace.Spell{From: start.Add(30 * time.Minute), Air: against}
	still := plan(t, r, group(25), nil)
	all := plan(t, r, group(25), nil, spell(against))
	some := plan(t, r, group(25), nil, late, spell(pace.Air{})) // out of order
	if !(took(still) < took(some) && took(some) < took(all)) {
		t.Errorf("still %s, from 09:30 %s, all day %s", took(still), took(some), took(all))
	}
	// Alike until the wind comes, to within the stretch begun before it.
	at := start.Add(30 * time.Minute)
	near(t, "distance at 09:30", some.AtTime(at).DistM, still.AtTime(at).DistM, 1e-3)
	// A spell that begins after the start holds before it where none else does.
	if only := plan(t, r, group(25), nil, late); took(only) != took(all) {
		t.Errorf("one spell, from 09:30: %s, want %s", took(only), took(all))
	}
	// One that begins with the ride holds from the first metre.
	before := pace.Spell{From: start.Add(-time.Hour)}
	if now := plan(t, r, group(25), nil, before, spell(against)); took(now) != took(all) {
		t.Errorf("from the start on: %s, want %s", took(now), took(all))
	}
	// While the group stands, time goes on.
	tea := []pace.Stop{{Name: "Tea", AtM: 1000, For: time.Hour}}
	if w := plan(t, r, group(25), tea, late, spell(pace.Air{})); w.Home().Before(some.Home().Add(time.Hour)) {
		t.Errorf("home %s after a stop, %s without", w.Home(), some.Home())
	}
}

func TestStopsInTheTimeline(t *testing.T) {
	r := line(t, 200, 100, 0, level)
	stops := []pace.Stop{
		{"Second", 12_345.6, 20 * time.Minute}, {"First", 500, 5 * time.Minute}, {"Also first", 500, time.Minute},
		{"At the start", 0, 2 * time.Minute}, {"At the end", r.DistanceM, 3 * time.Minute},
	}
	without, with := plan(t, r, group(30), nil), plan(t, r, group(30), stops)
	if got, want := took(with), took(without)+31*time.Minute; got != want {
		t.Errorf("took %s, want %s", got, want)
	}
	stood := map[string]time.Duration{}
	for i := 1; i < len(with.Instants); i++ {
		a, b := with.Instants[i-1], with.Instants[i]
		if a.Stop != "" && a.Stop == b.Stop && a.DistM == b.DistM {
			stood[a.Stop] += b.At.Sub(a.At)
			if mid := with.AtTime(a.At.Add(b.At.Sub(a.At) / 2)); mid.Stop != a.Stop || mid.DistM != a.DistM {
				t.Errorf("in the middle of %s: %+v", a.Stop, mid)
			}
		}
	}
	for _, s := range stops {
		if stood[s.Name] != s.For {
			t.Errorf("%s: stood %s, want %s", s.Name, stood[s.Name], s.For)
		}
		arrived := with.AtTime(with.AtDist(s.AtM))
		near(t, s.Name, arrived.DistM, s.AtM, 1e-3)
	}
	if moving := with.AtTime(with.AtDist(7000)); moving.Stop != "" {
		t.Errorf("moving, but at stop %q", moving.Stop)
	}
}

// Two stops of one name, 20 m apart: in between the group moves.
func TestStopsOfOneName(t *testing.T) {
	r := line(t, 20, 100, 0, level)
	tl := plan(t, r, group(30), []pace.Stop{{"Gate", 310, time.Minute}, {"Gate", 330, time.Minute}})
	if in := tl.AtTime(tl.AtDist(320)); in.Stop != "" {
		t.Errorf("under way, but at stop %q", in.Stop)
	}
}

func TestPlanRefuses(t *testing.T) {
	r := line(t, 10, 100, 0, level)
	nan := math.NaN()
	const paceNext = ": it must be from 5 to 60; give the steady speed on a flat road in still air, in km/h"
	edit := func(f func(*pace.Params)) pace.Group {
		g := group(25)
		f(&g.Params)
		return g
	}
	stop := func(s pace.Stop) []pace.Stop { return []pace.Stop{{"Tea", 1, time.Minute}, s} }
	air := func(a pace.Air) []pace.Spell { return []pace.Spell{spell(a)} }
	for _, c := range []struct {
		name   string
		r      *route.Route
		g      pace.Group
		start  time.Time
		stops  []pace.Stop
		spells []pace.Spell
		want   string
	}{
		{"no route", nil, group(25), start, nil, nil, "route has no line: read one from a file first"},
		{"empty route", &route.Route{}, group(25), start, nil, nil, "route has no line: read one from a file first"},
		{"pace 0", r, group(0), start, nil, nil, "pace_kmh is 0" + paceNext},
		{"pace negative", r, group(-20), start, nil, nil, "pace_kmh is -20" + paceNext},
		{"pace NaN", r, group(nan), start, nil, nil, "pace_kmh is NaN" + paceNext},
		{"pace infinite", r, group(math.Inf(1)), start, nil, nil, "pace_kmh is +Inf" + paceNext},
		{"pace too high", r, group(60.1), start, nil, nil, "pace_kmh is 60.1" + paceNext},
		{"no start", r, group(25), time.Time{}, nil, nil, "start is not set: say when the group sets off"},
		{"no params", r, pace.Group{PaceKmh: 25}, start, nil, nil, "mass_kg is 0: it must be from 40 to 250; leave it at its default unless it was measured"},
		{"NaN in params", r, edit(func(p *pace.Params) { p.Crr = nan }), start, nil, nil, "crr is NaN: it must be from 0.001 to 0.03; leave it at its default unless it was measured"},
		{"climb reserve below 0", r, edit(func(p *pace.Params) { p.ClimbReserveW = -1 }), start, nil, nil, "climb_reserve_w is -1: it must be from 0 to 300; leave it at its default unless it was measured"},
		{"stop beyond the end", r, group(25), start, stop(pace.Stop{"Inn", 1000, time.Hour}), nil, "stops[1].at_m is 1000: the route goes from 0 to 900 m; put the stop on it"},
		{"stop before the start", r, group(25), start, stop(pace.Stop{"Inn", -1, time.Hour}), nil, "stops[1].at_m is -1: the route goes from 0 to 900 m; put the stop on it"},
		{"stop nowhere", r, group(25), start, stop(pace.Stop{"Inn", nan, time.Hour}), nil, "stops[1].at_m is NaN: the route goes from 0 to 900 m; put the stop on it"},
		{"stop without a name", r, group(25), start, stop(pace.Stop{"", 5, time.Hour}), nil, "stops[1].name is empty: say what the stop is"},
		{"stop of no time", r, group(25), start, stop(pace.Stop{"Inn", 5, 0}), nil, "stops[1].for is 0s: it must be above 0 and at most 24h0m0s; say how long the group stands there"},
		{"stop of days", r, group(25), start, stop(pace.Stop{"Inn", 5, 25 * time.Hour}), nil, "stops[1].for is 25h0m0s: it must be above 0 and at most 24h0m0s; say how long the group stands there"},
		{"spell without a moment", r, group(25), start, nil, []pace.Spell{{}}, "spells[0].from is not set: say from when the weather holds"},
		{"wind of 300", r, group(25), start, nil, air(pace.Air{WindKmh: 300}), "spells[0].wind_kmh is 300: it must be from 0 to 150; give the mean wind at 10 m in km/h"},
		{"wind NaN", r, group(25), start, nil, air(pace.Air{WindKmh: nan}), "spells[0].wind_kmh is NaN: it must be from 0 to 150; give the mean wind at 10 m in km/h"},
		{"wind negative", r, group(25), start, nil, air(pace.Air{WindKmh: -1}), "spells[0].wind_kmh is -1: it must be from 0 to 150; give the mean wind at 10 m in km/h"},
		{"wind from 400 degrees", r, group(25), start, nil, air(pace.Air{WindFromDeg: 400}), "spells[0].wind_from_deg is 400: it must be from 0 to 360; give where the wind comes from, 90 for east"},
		{"air too thin", r, group(25), start, nil, air(pace.Air{AirDensityKgM3: 0.1}), "spells[0].air_density_kg_m3 is 0.1: it must be from 0.7 to 1.6, or 0 where it is not known"},
		{"air NaN", r, group(25), start, nil, air(pace.Air{AirDensityKgM3: nan}), "spells[0].air_density_kg_m3 is NaN: it must be from 0.7 to 1.6, or 0 where it is not known"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tl, err := pace.Plan(c.r, c.g, c.start, c.stops, c.spells)
			if tl != nil || err == nil || err.Error() != c.want {
				t.Errorf("got  %v\nwant %s", err, c.want)
			}
		})
	}
}

// country is any route, hills or not.
func country(t *rapid.T) *route.Route {
	amp := rapid.Float64Range(0, 80).Draw(t, "hills")
	n, step := rapid.IntRange(2, 80).Draw(t, "points"), rapid.Float64Range(5, 400).Draw(t, "step")
	head := rapid.Float64Range(0, 360).Draw(t, "heading")
	return line(t, n, step, head, func(d float64) float64 { return amp * math.Sin(d/700) })
}

func TestPlanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := country(t)
		air := pace.Air{
			WindKmh: rapid.Float64Range(0, 80).Draw(t, "wind"), WindFromDeg: rapid.Float64Range(0, 360).Draw(t, "from"),
			Wet: rapid.Bool().Draw(t, "wet"), Icy: rapid.Bool().Draw(t, "icy"),
		}
		kmh := rapid.Float64Range(5, 50).Draw(t, "pace")
		base := plan(t, r, group(kmh), nil, spell(air))
		if faster := plan(t, r, group(kmh+rapid.Float64Range(0, 10).Draw(t, "more")), nil, spell(air)); took(faster) > took(base) {
			t.Fatalf("a faster pace takes longer: %s, %s", took(base), took(faster))
		}
		late := time.Duration(rapid.Int64Range(0, int64(9*time.Hour)).Draw(t, "late"))
		later, err := pace.Plan(r, group(kmh), start.Add(late), nil, []pace.Spell{spell(air)})
		if err != nil {
			t.Fatal(err)
		}
		shifted := base.Shift(late)
		for i, in := range later.Instants {
			if in != shifted.Instants[i] {
				t.Fatalf("instant %d: later start %v, shifted %v", i, in, shifted.Instants[i])
			}
		}
		var stops []pace.Stop
		var sum time.Duration
		for range rapid.IntRange(0, 5).Draw(t, "stops") {
			s := pace.Stop{Name: "s", AtM: r.DistanceM * rapid.Float64Range(0, 1).Draw(t, "share"), For: time.Duration(rapid.IntRange(1, 60).Draw(t, "min")) * time.Minute}
			stops, sum = append(stops, s), sum+s.For
		}
		with := plan(t, r, group(kmh), stops, spell(air))
		if took(with) != took(base)+sum {
			t.Fatalf("%s with %s of stops, %s without", took(with), sum, took(base))
		}
		ordered(t, with, r)
	})
}

// ordered checks what every timeline promises.
func ordered(t *rapid.T, tl *pace.Timeline, r *route.Route) {
	for i, in := range tl.Instants {
		if i > 0 && (in.At.Before(tl.Instants[i-1].At) || in.DistM < tl.Instants[i-1].DistM) {
			t.Fatalf("instant %d: %+v after %+v", i, in, tl.Instants[i-1])
		}
		lat, lon := r.At(in.DistM)
		if math.Abs(lat-in.LatDeg) > 1e-9 || math.Abs(lon-in.LonDeg) > 1e-9 {
			t.Fatalf("instant %d at %g %g, the route is at %g %g", i, in.LatDeg, in.LonDeg, lat, lon)
		}
	}
	if last := tl.Instants[len(tl.Instants)-1]; last.DistM != r.DistanceM {
		t.Fatalf("ends at %g of %g m", last.DistM, r.DistanceM)
	}
}

// Without wind and hills the way back takes as long as the way out.
func TestReversedFlatRouteTakesAsLong(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 80).Draw(t, "points")
		there, back := make([]route.Coord, n), make([]route.Coord, n)
		lat, lon := 52.0, -1.0
		step := rapid.Float64Range(0.0001, 0.004)
		for i := range there {
			c := route.Coord{LatDeg: lat, LonDeg: lon, ElevM: 20}
			there[i], back[n-1-i] = c, c
			lat, lon = lat+step.Draw(t, "dlat"), lon+step.Draw(t, "dlon")
		}
		a, err := route.New("there", there, nil)
		if err != nil {
			t.Fatal(err)
		}
		b, err := route.New("back", back, nil)
		if err != nil {
			t.Fatal(err)
		}
		one, two := took(plan(t, a, group(25), nil)), took(plan(t, b, group(25), nil))
		if d := one - two; d > time.Microsecond || d < -time.Microsecond {
			t.Fatalf("there %s, back %s", one, two)
		}
	})
}
