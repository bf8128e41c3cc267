package pace_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"gritward/internal/pace"
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

// start is a winter Sunday's start.
var start = time.Date(2027, 1, 10, 9, 0, 0, 0, time.UTC)

// fatal is what testing and rapid have in common.
type fatal interface{ Fatal(args ...any) }

// line is a route of n points from 52 N, stepM metres apart, heading so many
// degrees from north through east, with the elevation elev gives at each distance.
func line(t fatal, n int, stepM, headDeg float64, elev func(distM float64) float64) *route.Route {
	const mPerLat, mPerLon = 111267.0, 68678.0 // at 52 N
	sin, cos := math.Sincos(headDeg * math.Pi / 180)
	coords := make([]route.Coord, n)
	for i := range coords {
		d := float64(i) * stepM
		coords[i] = route.Coord{LatDeg: 52 + d*cos/mPerLat, LonDeg: -1 + d*sin/mPerLon, ElevM: elev(d)}
	}
	r, err := route.New("test", coords, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func level(float64) float64 { return 50 }

// hilly is rolling country with hills of 60 m.
func hilly(d float64) float64 { return 120 + 60*math.Sin(d/1500) }

func group(paceKmh float64) pace.Group {
	return pace.Group{PaceKmh: paceKmh, Params: pace.Defaults()}
}

// plan plans what must be sound.
func plan(t fatal, r *route.Route, g pace.Group, stops []pace.Stop, spells ...pace.Spell) *pace.Timeline {
	tl, err := pace.Plan(r, g, start, stops, spells)
	if err != nil {
		t.Fatal(err)
	}
	return tl
}

// spell is one air all day.
func spell(a pace.Air) pace.Spell { return pace.Spell{From: start, Air: a} }

func took(tl *pace.Timeline) time.Duration { return tl.Home().Sub(tl.Start()) }
