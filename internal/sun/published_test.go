package sun_test

import (
	"math"
	"testing"
	"time"

	"gritward/internal/sun"
)

// Oracle: rise and set to the nearest minute as printed by the US Naval
// Observatory, and a table for London, December 2015 (testdata/sun/README.md).
func TestPublishedMinutes(t *testing.T) {
	for _, row := range rows(t, "published_tables.csv") {
		t.Run(row["place"]+" "+row["date"], func(t *testing.T) {
			z := time.FixedZone("", int(number(t, row["utc_offset_h"])*3600))
			date, err := time.Parse(time.DateOnly, row["date"])
			if err != nil {
				t.Fatal(err)
			}
			day, err := sun.On(date.Year(), date.Month(), date.Day(), z, place(t, row))
			if err != nil {
				t.Fatal(err)
			}
			for name, got := range map[string]*time.Time{
				"sunrise": day.Sunrise, "sunset": day.Sunset,
				"civil_dawn": day.CivilDawn, "civil_dusk": day.CivilDusk,
			} {
				if want := row[name]; want != "" && !agrees(t, *got, want, row["rounding"]) {
					t.Errorf("%s: got %s, published %s", name, got.Format(time.TimeOnly), want)
				}
			}
		})
	}
}

// agrees compares with a printed minute: exactly where the table is known to
// round to the nearest, within one minute where it does not say what it does.
func agrees(t *testing.T, got time.Time, printed, rounding string) bool {
	t.Helper()
	if rounding == "nearest" {
		return got.Round(time.Minute).Format("15:04") == printed
	}
	want, err := time.ParseInLocation("2006-01-02 15:04", got.Format(time.DateOnly)+" "+printed, got.Location())
	if err != nil {
		t.Fatal(err)
	}
	return got.Sub(want).Abs() < time.Minute
}

// Oracle: the worked example of Reda and Andreas, Solar Position Algorithm for
// Solar Radiation Applications, NREL/TP-560-34302 (revised 2008), table A5.1.
func TestWorkedExampleNREL(t *testing.T) {
	published := map[string]string{}
	for _, row := range rows(t, "spa_example.csv") {
		published[row["quantity"]] = row["published"]
	}
	p := sun.Place{LatDeg: number(t, published["latitude"]), LonDeg: number(t, published["longitude"])}
	at := time.Date(2003, 10, 17, 19, 30, 30, 0, time.UTC)

	// The printed zenith includes refraction, by the report's equation 42.
	const refractionDeg = 0.0163320721
	zenith := 90 - sun.AltitudeDeg(at, p) - refractionDeg
	if off := math.Abs(zenith - number(t, published["theta topocentric zenith angle"])); off > 0.004 {
		t.Errorf("zenith %.5f deg is off by %.5f", zenith, off)
	}
	az := sun.AzimuthDeg(at, p)
	if off := math.Abs(az - number(t, published["Phi topocentric azimuth from north"])); off > 0.006 {
		t.Errorf("azimuth %.5f deg is off by %.5f", az, off)
	}
}

// The same example's printed sunset, 00:20:19 UT, belongs to the UT day: it
// is the evening of 16 October by local clocks. A program asked for the local
// 17th must not give it. 00:18:51 UT is computed, not printed.
func TestSunsetOfTheLocalDay(t *testing.T) {
	p := sun.Place{LatDeg: 39.742476, LonDeg: -105.1786}
	z := time.FixedZone("", -7*3600)
	for _, c := range []struct {
		day  int
		what string
		want time.Time
	}{
		{16, "sunset", time.Date(2003, 10, 17, 0, 20, 19, 190e6, time.UTC)}, // printed
		{17, "sunrise", time.Date(2003, 10, 17, 13, 12, 43, 460e6, time.UTC)},
		{17, "noon", time.Date(2003, 10, 17, 18, 46, 4, 970e6, time.UTC)},
		{17, "sunset", time.Date(2003, 10, 18, 0, 18, 51, 0, time.UTC)},
	} {
		day, err := sun.On(2003, 10, c.day, z, p)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]time.Time{"sunrise": *day.Sunrise, "noon": day.SolarNoon, "sunset": *day.Sunset}[c.what]
		if off := got.Sub(c.want).Abs(); off > 2*time.Second {
			t.Errorf("%s of the %dth: got %v, off by %v", c.what, c.day, got, off)
		}
	}
}

// Oracle: table A2.1 of the same report. Its times are of geocentric altitude,
// which parallax parts from ours by up to 0.8 s.
func TestTableNREL(t *testing.T) {
	for _, row := range rows(t, "spa_table_a2_1.csv") {
		date, err := time.Parse(time.DateOnly, row["date"])
		if err != nil {
			t.Fatal(err)
		}
		day, err := sun.On(date.Year(), date.Month(), date.Day(), time.UTC, place(t, row))
		if err != nil {
			t.Fatal(err)
		}
		for column, got := range map[string]*time.Time{
			"spa_published_sunrise_ut": day.Sunrise, "spa_published_sunset_ut": day.Sunset,
		} {
			want, err := time.Parse("2006-01-02 15:04:05", row["date"]+" "+row[column])
			if err != nil {
				t.Fatal(err)
			}
			if off := got.Sub(want).Abs(); off > 3*time.Second {
				t.Errorf("%s %s: got %v, off by %v", row["date"], column, got, off)
			}
		}
	}
}
