package route_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/route"
)

// GeographicLib's distances: testdata/geodesic/README.md.
func TestDistanceMAgainstGeographicLib(t *testing.T) {
	worst := 0.0
	for _, row := range rows(t, "../../testdata/geodesic/geodesic_public.csv") {
		want := number(t, row["distance_m"])
		got := route.DistanceM(number(t, row["lat1"]), number(t, row["lon1"]), number(t, row["lat2"]), number(t, row["lon2"]))
		worst = max(worst, math.Abs(got-want))
		if !(math.Abs(got-want) <= 1e-3+1e-9*want) {
			t.Errorf("%v: got %.6f", row, got)
		}
	}
	t.Logf("worst error %.2g m", worst)
}

// Half a meridian, 20003931.4586 m: Karney, Algorithms for geodesics, J.
// Geodesy 87 (2013), twice the quarter meridian 10001965.7293 m of WGS84.
func TestDistanceMBetweenAntipodes(t *testing.T) {
	const half = 20003931.4586
	for _, c := range []struct {
		name                   string
		lat1, lon1, lat2, lon2 float64
	}{
		{"poles", 90, 0, -90, 0},
		{"equator", 0, 0, 0, 180},
		{"equator, over the date line", 0, -90, 0, 90},
		{"middle latitude", 45, 20, -45, -160},
	} {
		t.Run(c.name, func(t *testing.T) {
			near(t, "distance", route.DistanceM(c.lat1, c.lon1, c.lat2, c.lon2), half, 1e-3)
		})
	}
}

func TestDistanceMOfNoPlace(t *testing.T) {
	if d := route.DistanceM(math.NaN(), 0, 1, 1); !math.IsNaN(d) {
		t.Errorf("got %g, want NaN", d)
	}
	if d := route.DistanceM(0, math.Inf(1), 1, 1); !math.IsNaN(d) {
		t.Errorf("got %g, want NaN", d)
	}
}

func TestDistanceMProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-90, 90)
		lon := rapid.Float64Range(-180, 180)
		a, b, c, d := lat.Draw(t, "a"), lon.Draw(t, "b"), lat.Draw(t, "c"), lon.Draw(t, "d")
		there, back := route.DistanceM(a, b, c, d), route.DistanceM(c, d, a, b)
		if math.Abs(there-back) > 1e-3 || !(there >= 0 && there <= 20003932) {
			t.Fatalf("there %g, back %g", there, back)
		}
		if same := route.DistanceM(a, b, a, b); same != 0 {
			t.Fatalf("to itself %g", same)
		}
		if mirror := route.DistanceM(-a, -b, -c, -d); math.Abs(mirror-there) > 1e-3 {
			t.Fatalf("mirrored %g, want %g", mirror, there)
		}
	})
}

// Near the antipode, where Vincenty's own iteration fails: no way round may be
// shorter, and the distance must change no faster than the point moves.
func TestDistanceMNearAntipodeIsSmooth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-89, 89).Draw(t, "lat")
		off := rapid.Float64Range(-1, 1)
		c, d := -lat+off.Draw(t, "dlat"), 180+off.Draw(t, "dlon")
		if math.Abs(c) > 90 {
			return
		}
		one := route.DistanceM(lat, 0, c, d)
		c2, d2 := min(90, max(-90, c+off.Draw(t, "dlat2")/100)), d+off.Draw(t, "dlon2")/100
		two := route.DistanceM(lat, 0, c2, d2)
		if moved := route.DistanceM(c, d, c2, d2); math.Abs(one-two) > moved+1e-3 {
			t.Fatalf("moved %g m, distance from %g to %g", moved, one, two)
		}
	})
}
