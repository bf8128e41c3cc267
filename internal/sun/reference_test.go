package sun_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"gritward/internal/sun"
)

// The reference rows and where they come from: testdata/sun/README.md.
const data = "../../testdata/sun"

// rows reads a CSV file as one map per row, keyed by the header.
func rows(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(data, name))
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

func instant(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func place(t testing.TB, row map[string]string) sun.Place {
	t.Helper()
	return sun.Place{LatDeg: number(t, row["lat"]), LonDeg: number(t, row["lon"])}
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// Oracle: IAU SOFA routines, 300 instants and places.
func TestPositionAgainstReference(t *testing.T) {
	all := rows(t, "altitude.csv")
	if len(all) != 300 {
		t.Fatalf("altitude.csv has %d rows, want 300", len(all))
	}
	const limitDeg = 0.004
	var worstAlt, worstAz, squares float64
	for _, row := range all {
		at, p := instant(t, row["utc_time"]), place(t, row)
		wantAlt, wantAz := number(t, row["altitude_deg"]), number(t, row["azimuth_deg"])
		dAlt := math.Abs(sun.AltitudeDeg(at, p) - wantAlt)
		// Azimuth error shrinks on the sky towards the zenith.
		dAz := math.Abs(math.Remainder(sun.AzimuthDeg(at, p)-wantAz, 360)) * math.Cos(wantAlt*math.Pi/180)
		if !(dAlt < limitDeg && dAz < limitDeg) {
			t.Errorf("%s %+v: altitude off by %.5f, azimuth by %.5f deg", row["utc_time"], p, dAlt, dAz)
		}
		worstAlt, worstAz, squares = max(worstAlt, dAlt), max(worstAz, dAz), squares+dAlt*dAlt
	}
	t.Logf("worst altitude %.5f deg (rms %.5f), worst azimuth on the sky %.5f deg",
		worstAlt, math.Sqrt(squares/float64(len(all))), worstAz)
}

// Oracle: the same routines, 200 days, 34 cells without an event.
func TestEventsAgainstReference(t *testing.T) {
	all := rows(t, "events.csv")
	if len(all) != 200 {
		t.Fatalf("events.csv has %d rows, want 200", len(all))
	}
	var worst float64
	none := 0
	for _, row := range all {
		date, err := time.Parse(time.DateOnly, row["date"])
		if err != nil {
			t.Fatal(err)
		}
		day, err := sun.On(date.Year(), date.Month(), date.Day(), zone(t, row["tz"]), place(t, row))
		if err != nil {
			t.Fatal(err)
		}
		limitS := 2.0
		if r := row["slowest_rate_deg_per_min"]; r != "" {
			limitS += 0.6 / number(t, r)
		}
		for name, got := range map[string]*time.Time{
			"sunrise_utc": day.Sunrise, "sunset_utc": day.Sunset,
			"civil_dawn_utc": day.CivilDawn, "civil_dusk_utc": day.CivilDusk,
			"solar_noon_utc": &day.SolarNoon,
		} {
			if row[name] == "none" || got == nil {
				none++
				if (row[name] == "none") != (got == nil) {
					t.Errorf("%s %s %s: got %v, want %s", row["date"], row["place"], name, got, row[name])
				}
				continue
			}
			off := math.Abs(got.Sub(instant(t, row[name])).Seconds())
			if off > limitS {
				t.Errorf("%s %s %s: got %v, off by %.2f s, limit %.2f", row["date"], row["place"], name, got, off, limitS)
			}
			if limit, bound := latitudeLimitS(number(t, row["lat"])); bound && off > limit {
				t.Errorf("%s %s %s: off by %.2f s, at this latitude at most %g s", row["date"], row["place"], name, off, limit)
			}
			if limitS < 14 { // rate above 0.05 deg/min
				worst = max(worst, off)
			}
		}
		if off := math.Abs(day.MaxAltDeg - number(t, row["max_alt_deg"])); off > 0.005 {
			t.Errorf("%s %s: greatest altitude off by %.4f deg", row["date"], row["place"], off)
		}
		checkAlways(t, row, day)
	}
	if none != 34 {
		t.Errorf("%d cells without an event, want 34", none)
	}
	t.Logf("worst event where the sun moves faster than 0.05 deg/min: %.2f s", worst)
}

// latitudeLimitS is how near, in seconds, an event must be to the reference up to 66 degrees; beyond, the rate of the
// sun's altitude alone decides.
func latitudeLimitS(latDeg float64) (limitS float64, bound bool) {
	switch lat := math.Abs(latDeg); {
	case lat < 60:
		return 2, true
	case lat <= 66:
		return 5, true
	}
	return 0, false
}

func checkAlways(t *testing.T, row map[string]string, day sun.Day) {
	t.Helper()
	neither := row["sunrise_utc"] == "none" && row["sunset_utc"] == "none"
	up := number(t, row["max_alt_deg"]) > sun.RiseSetDeg
	if day.AlwaysUp() != (neither && up) || day.NeverUp() != (neither && !up) {
		t.Errorf("%s %s: always up %v, never up %v", row["date"], row["place"], day.AlwaysUp(), day.NeverUp())
	}
}
