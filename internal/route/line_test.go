package route_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/route"
)

func TestSmoothingKeepsSteadySlopes(t *testing.T) {
	r := mustNew(t, north(500, 7, func(d float64) float64 { return 100 + 0.05*d }))
	for _, p := range r.Points {
		near(t, "SmoothElevM", p.SmoothElevM, p.ElevM, 1e-6)
	}
	near(t, "AscentM", r.AscentM, 0.05*499*7, 1e-6)
	near(t, "AscentRawM", r.AscentRawM, 0.05*499*7, 1e-6)
	near(t, "DescentM", r.DescentM, 0, 1e-9)
}

// A sawtooth of 2 m between points 5 m apart is noise: half a metre of rise a
// metre ridden goes in, next to nothing must come out.
func TestSmoothingTakesOutJitter(t *testing.T) {
	r := mustNew(t, north(2001, 5, func(d float64) float64 { return 100 + 2*math.Mod(math.Round(d/5), 2) }))
	near(t, "AscentRawM", r.AscentRawM, 2000, 1e-6)
	if r.AscentM > 10 {
		t.Errorf("AscentM = %g", r.AscentM)
	}
}

// The mean of |x| under the triangular kernel of half-width w is w/3, so a
// ridge between even slopes of gradient g is cut down by g w/3.
func TestSmoothingOfARidge(t *testing.T) {
	r := mustNew(t, north(401, 10, func(d float64) float64 { return 300 - 0.1*math.Abs(d-2000) }))
	near(t, "ridge", r.ElevAt(2000), 300-0.1*100/3, 0.05)
	near(t, "slope", r.ElevAt(1000), 200, 0.01)
}

func TestUnknownElevationsAreBridged(t *testing.T) {
	r := mustNew(t, north(101, 10, func(d float64) float64 {
		if d > 300 && d < 600 {
			return math.NaN()
		}
		return 0.02 * d
	}))
	near(t, "ElevAt", r.ElevAt(450), 9, 0.05)
	near(t, "AscentRawM", r.AscentRawM, 20, 1e-6)
}

func TestRawAscentLeavesOutGaps(t *testing.T) {
	coords := north(4, 100, func(d float64) float64 { return []float64{10, 20, 80, 85}[int(d/100+0.5)] })
	coords[2].NewSegment = true
	near(t, "AscentRawM", mustNew(t, coords).AscentRawM, 15, 1e-9)
}

// Of several elevations at one place the last counts.
func TestPointsAtOnePlace(t *testing.T) {
	coords := north(3, 100, flat)
	again := coords[1]
	again.ElevM = 58
	unknown := coords[1]
	unknown.ElevM = math.NaN()
	r := mustNew(t, []route.Coord{coords[0], coords[1], again, unknown, coords[2]})
	if len(r.Points) != 3 || r.Points[1].ElevM != 58 {
		t.Errorf("got %+v", r.Points)
	}
}

func TestClimbsAfterALongFlatAreTwo(t *testing.T) {
	r := mustNew(t, north(251, 10, func(d float64) float64 { return 0.06 * (math.Min(d, 1000) + math.Max(0, d-1500)) }))
	if len(r.Climbs) != 2 {
		t.Errorf("climbs %+v", r.Climbs)
	}
}

func TestNoElevation(t *testing.T) {
	r := mustNew(t, north(10, 100, func(float64) float64 { return math.NaN() }))
	if r.HasElevation || r.AscentM != 0 || r.AscentRawM != 0 || r.ElevAt(300) != 0 || r.Climbs != nil {
		t.Errorf("got %+v", r)
	}
}

func TestClimbs(t *testing.T) {
	// 1 km flat, 1 km at 6 %, 500 m flat, 1 km at -8 %, 1 km flat, then 400 m at 4 %.
	profile := func(d float64) float64 {
		up := 0.06 * math.Min(1000, math.Max(0, d-1000))
		down := 0.08 * math.Min(1000, math.Max(0, d-2500))
		return 50 + up - down + 0.04*math.Min(400, math.Max(0, d-4500))
	}
	r := mustNew(t, north(510, 10, profile))
	if len(r.Climbs) != 1 || len(r.Descents) != 1 {
		t.Fatalf("climbs %+v, descents %+v", r.Climbs, r.Descents)
	}
	// Smoothing rounds off foot and top by gradient x window / 6 each, 2 and
	// 2.7 m in all; the ends eased to below the limit are not counted.
	c, d := r.Climbs[0], r.Descents[0]
	near(t, "climb from", c.FromM, 1000, 60)
	near(t, "climb to", c.ToM, 2000, 60)
	near(t, "climb gain", c.GainM, 58, 1)
	near(t, "climb mean", c.GradientMean, 0.06, 0.004)
	near(t, "climb max", c.GradientMax, 0.06, 0.001)
	near(t, "descent from", d.FromM, 2500, 60)
	near(t, "descent to", d.ToM, 3500, 60)
	near(t, "descent gain", d.GainM, -77.3, 3)
	near(t, "descent mean", d.GradientMean, -0.08, 0.006)
	near(t, "descent max", d.GradientMax, -0.08, 0.001)
}

func TestShapes(t *testing.T) {
	circle := func(n int) []route.Coord {
		var out []route.Coord
		for i := range n + 1 {
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			out = append(out, route.Coord{LatDeg: 52 + 0.02*s, LonDeg: -1 + 0.032*c})
		}
		return out
	}
	out := north(100, 50, flat)
	back := append([]route.Coord{}, out...)
	for i := len(out) - 2; i >= 0; i-- {
		c := out[i]
		c.LonDeg += 0.0002 // 14 m beside the way out
		back = append(back, c)
	}
	lollipop := north(40, 50, flat) // 2 km out, a loop of 9 km, 2 km back
	for i := range 91 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 90)
		lollipop = append(lollipop, route.Coord{LatDeg: 52.0175 + 0.0129*(1-c), LonDeg: -1 + 0.021*s})
	}
	for i := range 40 {
		lollipop = append(lollipop, lollipop[39-i])
	}
	for _, c := range []struct {
		name   string
		coords []route.Coord
		want   route.Shape
	}{
		{"point to point", out, route.PointToPoint},
		{"out and back", back, route.OutAndBack},
		{"loop", circle(90), route.Loop},
		{"loop of few points", circle(4), route.Loop},
		{"loop at the end of a road", lollipop, route.Loop},
		{"most of a loop", circle(90)[:80], route.PointToPoint},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := mustNew(t, c.coords).Shape; got != c.want || got.String() != c.name && c.name == "loop" {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

func TestWaypointsOnTheWayOutAndBack(t *testing.T) {
	out := north(100, 50, flat)
	line := append([]route.Coord{}, out...)
	for i := len(out) - 2; i >= 0; i-- {
		c := out[i]
		c.LonDeg += 0.0002 // 14 m beside the way out
		line = append(line, c)
	}
	r := mustNew(t, line,
		route.Waypoint{LatDeg: out[40].LatDeg, LonDeg: -1 + 0.00012}, // little nearer to the way back: the way out is meant
		route.Waypoint{LatDeg: out[40].LatDeg, LonDeg: -1 + 0.0002},  // on the way back
		route.Waypoint{LatDeg: out[30].LatDeg, LonDeg: -0.9})         // far off
	near(t, "between", r.Waypoints[0].DistM, 2000, 1)
	near(t, "on the way back", r.Waypoints[1].DistM, r.DistanceM-2000, 1)
	near(t, "far off", r.Waypoints[2].DistM, r.DistanceM-1500, 5)
	near(t, "far off", r.Waypoints[2].OffM, route.DistanceM(out[30].LatDeg, -0.9, out[30].LatDeg, -0.9998), 1)
}

// No point of the line may be nearer than the waypoint's own place on it.
func TestWaypointsAreNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coords := make([]route.Coord, rapid.IntRange(2, 40).Draw(t, "n"))
		step := rapid.Float64Range(-0.01, 0.01)
		lat, lon := rapid.Float64Range(-85, 85).Draw(t, "lat"), rapid.Float64Range(-179, 179).Draw(t, "lon")
		w := route.Waypoint{LatDeg: lat + step.Draw(t, "wlat"), LonDeg: lon + step.Draw(t, "wlon")}
		for i := range coords {
			coords[i] = route.Coord{LatDeg: lat, LonDeg: lon}
			lat, lon = lat+step.Draw(t, "dlat"), lon+step.Draw(t, "dlon")
		}
		r, err := route.New("x", coords, []route.Waypoint{w})
		if err != nil {
			return // all in one place
		}
		got := r.Waypoints[0]
		for d := 0.0; d < r.DistanceM; d += r.DistanceM / 300 {
			lat, lon := r.At(d)
			if off := route.DistanceM(w.LatDeg, w.LonDeg, lat, lon); off < got.OffM-5-0.002*off || off < got.OffM && d < got.DistM-r.DistanceM/300 && off < got.OffM-5.1 {
				t.Fatalf("%g m off at %g m, but %g m off at %g", got.OffM, got.DistM, off, d)
			}
		}
	})
}

func TestAt(t *testing.T) {
	r := mustNew(t, []route.Coord{{LatDeg: 0, LonDeg: 179.99}, {LatDeg: 0, LonDeg: -179.99}, {LatDeg: 0.01, LonDeg: -179.99}})
	for _, c := range []struct{ dist, lat, lon float64 }{
		{-5, 0, 179.99}, {math.NaN(), 0, 179.99}, {0, 0, 179.99},
		{r.Points[1].DistM / 4, 0, 179.995}, {r.Points[1].DistM * 3 / 4, 0, -179.995},
		{r.Points[1].DistM, 0, -179.99}, {r.DistanceM, 0.01, -179.99}, {r.DistanceM + 9, 0.01, -179.99},
	} {
		lat, lon := r.At(c.dist)
		near(t, "lat", lat, c.lat, 1e-9)
		near(t, "lon", lon, c.lon, 1e-9)
	}
	if r.Bounds != (route.Bounds{MinLatDeg: 0, MinLonDeg: 179.99, MaxLatDeg: 0.01, MaxLonDeg: -179.99}) {
		near(t, "MinLonDeg", r.Bounds.MinLonDeg, 179.99, 1e-9)
		near(t, "MaxLonDeg", r.Bounds.MaxLonDeg, -179.99, 1e-9)
	}
}

func TestLineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 60).Draw(t, "n")
		coords := make([]route.Coord, n)
		step := rapid.Float64Range(-0.004, 0.004)
		lat, lon := rapid.Float64Range(-80, 80).Draw(t, "lat"), rapid.Float64Range(-179, 179).Draw(t, "lon")
		for i := range coords {
			coords[i] = route.Coord{LatDeg: lat, LonDeg: lon, ElevM: rapid.Float64Range(0, 300).Draw(t, "elev")}
			lat, lon = lat+step.Draw(t, "dlat"), lon+step.Draw(t, "dlon")
		}
		r, err := route.New("x", coords, nil)
		if err != nil {
			return // all in one place
		}
		if r.AscentM > r.AscentRawM+1e-6 {
			t.Fatalf("smoothed ascent %g above raw %g", r.AscentM, r.AscentRawM)
		}
		first, last := r.Points[0], r.Points[len(r.Points)-1]
		if net := last.SmoothElevM - first.SmoothElevM; math.Abs(r.AscentM-r.DescentM-net) > 1e-6 {
			t.Fatalf("up %g, down %g, net %g", r.AscentM, r.DescentM, net)
		}
		for i, p := range r.Points {
			if i > 0 && !(p.DistM >= r.Points[i-1].DistM) {
				t.Fatalf("point %d at %g after %g", i, p.DistM, r.Points[i-1].DistM)
			}
			a, b := r.At(p.DistM)
			if route.DistanceM(a, b, p.LatDeg, p.LonDeg) > 1e-3 {
				t.Fatalf("point %d is at %g %g, At gives %g %g", i, p.LatDeg, p.LonDeg, a, b)
			}
		}
		for _, c := range r.Climbs {
			if !(c.FromM < c.ToM && c.GainM >= 20 && c.GradientMean >= 0.03-1e-9 && c.GradientMax >= c.GradientMean-1e-9) {
				t.Fatalf("climb %+v", c)
			}
		}
	})
}

// A start away from the meeting point is said; near it, or with no meeting point in the file, nothing is.
func TestNotesTheMeetingPoint(t *testing.T) {
	const mPerDeg = 111267.0
	for name, c := range map[string]struct {
		at   route.Waypoint
		want string
	}{
		"away":    {route.Waypoint{Name: "Meeting point, old weighbridge", LatDeg: 52 - 600/mPerDeg, LonDeg: -1}, `The line starts 600 m from the meeting point "Meeting point, old weighbridge": the way there is not reckoned.`},
		"by type": {route.Waypoint{Name: "Weighbridge", Type: "Meeting Point", LatDeg: 52 - 1500/mPerDeg, LonDeg: -1}, `The line starts 1.5 km from the meeting point "Weighbridge": the way there is not reckoned.`},
		"near":    {route.Waypoint{Name: "Meeting point", LatDeg: 52 - 200/mPerDeg, LonDeg: -1}, ""},
		"other":   {route.Waypoint{Name: "Cafe", LatDeg: 52 - 900/mPerDeg, LonDeg: -1}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			notes := mustNew(t, north(50, 50, func(d float64) float64 { return d / 100 }), c.at).Notes
			if got := strings.Join(notes, " "); got != c.want {
				t.Errorf("notes %q, want %q", got, c.want)
			}
		})
	}
}

// The ends of what is taken: elevations of -500 and 9000 m, and points 1 km and 1 cm apart.
func TestExtremesAreTaken(t *testing.T) {
	r := mustNew(t, north(20, 1000, func(d float64) float64 { return -500 + d/2 }))
	near(t, "1 km apart", r.DistanceM, 19_000, 10)
	if len(r.Notes) != 1 || !strings.HasPrefix(r.Notes[0], "The line is as steep as 50 %") {
		t.Errorf("notes %q", r.Notes)
	}
	near(t, "ascent", r.AscentRawM, 9500, 1e-6)
	r = mustNew(t, north(20_000, 0.01, func(d float64) float64 { return 9000 - d }))
	near(t, "1 cm apart", r.DistanceM, 200, 0.2)
	near(t, "descent", r.DescentM, 200, 1)
	near(t, "last smoothed elevation", r.Points[len(r.Points)-1].SmoothElevM, 8800, 1)
}
