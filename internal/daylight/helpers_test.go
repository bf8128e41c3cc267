package daylight_test

import (
	"encoding/csv"
	"os"
	"testing"
	"time"

	"gritward/internal/daylight"
	"gritward/internal/pace"
)

// stay is a group that stands at one place.
func stay(from, to time.Time, lat, lon float64) *pace.Timeline {
	return &pace.Timeline{Instants: []pace.Instant{
		{At: from, LatDeg: lat, LonDeg: lon, Stop: "car park"},
		{At: to, LatDeg: lat, LonDeg: lon, Stop: "car park"},
	}}
}

// loop is an out-and-back ride of n points from 54 N 2 W, 100 km in all, with
// a half-hour stop at the far end. It takes five and a half hours.
func loop(start time.Time, n int) *pace.Timeline {
	tl := &pace.Timeline{}
	const ride = 5 * time.Hour
	for i := range n {
		f := float64(i) / float64(n-1)
		out := 2 * min(f, 1-f) // 0 at both ends, 1 at the far end
		in := pace.Instant{
			At: start.Add(time.Duration(f * float64(ride))), DistM: 100e3 * f,
			LatDeg: 54 + 0.3*out, LonDeg: -2 + 0.5*out,
		}
		if f > 0.5 {
			in.At = in.At.Add(30 * time.Minute)
		}
		if f == 0.5 {
			in.Stop = "tea room"
			tl.Instants = append(tl.Instants, in)
			in.At = in.At.Add(30 * time.Minute)
		}
		tl.Instants = append(tl.Instants, in)
	}
	return tl
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func clock(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func of(t testing.TB, tl *pace.Timeline, r daylight.Rule, poor ...daylight.Interval) daylight.Profile {
	t.Helper()
	p, err := daylight.Of(tl, r, poor)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(got, want time.Time, slack time.Duration) bool { return got.Sub(want).Abs() <= slack }

// events are the rows of testdata/sun/events.csv, whose source its README names.
func events(t *testing.T) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/sun/events.csv")
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
