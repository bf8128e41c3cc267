package route_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"gritward/internal/route"
)

// rows reads a CSV file as one map per row, keyed by the header.
func rows(t testing.TB, file string) []map[string]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, head := range all[0] {
			row[head] = cells[i]
		}
		out = append(out, row)
	}
	return out
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// near fails if got is not within limit of want.
func near(t testing.TB, what string, got, want, limit float64) {
	t.Helper()
	if !(math.Abs(got-want) <= limit) {
		t.Errorf("%s = %v, want %v within %g", what, got, want, limit)
	}
}

// gpx wraps elements into a GPX 1.1 file.
func gpx(inner string) string {
	return `<?xml version="1.0"?>` + "\n" + `<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">` + "\n" + inner + "\n</gpx>\n"
}

// mustRead reads a file that must be sound.
func mustRead(t testing.TB, text string) *route.Route {
	t.Helper()
	r, err := route.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// mustNew measures a line that must be sound.
func mustNew(t testing.TB, coords []route.Coord, wpts ...route.Waypoint) *route.Route {
	t.Helper()
	r, err := route.New("test", coords, wpts)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// north is a line due north from 52 N, a point every stepM metres or nearly,
// with the elevation that elev gives at each distance.
func north(n int, stepM float64, elev func(distM float64) float64) []route.Coord {
	const mPerDeg = 111267.0 // at 52 N
	out := make([]route.Coord, n)
	for i := range out {
		d := float64(i) * stepM
		out[i] = route.Coord{LatDeg: 52 + d/mPerDeg, LonDeg: -1, ElevM: elev(d)}
	}
	return out
}

func flat(float64) float64 { return 50 }
