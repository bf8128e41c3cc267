package weather_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"gritward/internal/weather"
)

// The reference rows and where they come from: testdata/weather/README.md.
const data = "../../testdata/weather"

func table(t *testing.T, name string) [][]string {
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
	return all
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

// Oracle: Environment Canada's chart (whole degrees) and the formula.
func TestWindChillRows(t *testing.T) {
	seen := map[string]int{}
	for _, row := range table(t, "windchill.csv")[1:] {
		kind := row[4]
		seen[kind]++
		got, defined := weather.WindChillC(number(t, row[0]), number(t, row[1]))
		if kind == "low_wind_variant" {
			if defined || !math.IsNaN(got) {
				t.Errorf("%v: the index is not defined here, got %v", row, got)
			}
			continue
		}
		if !defined || !near(got, number(t, row[2]), 1e-3) {
			t.Errorf("%v: got %v, defined %v", row, got, defined)
		}
		if kind == "table" && math.Round(got) != number(t, row[3]) {
			t.Errorf("%v: rounds to %v", row, math.Round(got))
		}
	}
	if seen["table"] != 96 || seen["formula"] != 66 || seen["low_wind_variant"] != 7 {
		t.Errorf("rows seen: %v", seen)
	}
}

// Oracle: Environment Canada's chart; the cell -20 degC, 20 km/h is -30, which
// several copies misprint.
func TestWindChillChart(t *testing.T) {
	chart, cells := table(t, "chart_2001.csv"), 0
	for _, row := range chart[1:] {
		for i := 1; i < len(row); i++ {
			cells++
			temp, wind := number(t, chart[0][i]), number(t, row[0])
			got, defined := weather.WindChillC(temp, wind)
			if !defined || math.Round(got) != number(t, row[i]) {
				t.Errorf("%v degC, %v km/h: got %v, chart %s", temp, wind, got, row[i])
			}
		}
	}
	if cells != 192 {
		t.Errorf("%d cells compared, the chart has 192", cells)
	}
	// US National Weather Service chart: 0 degF and 15 mph feel like -19 degF.
	if c, _ := weather.WindChillC(-160.0/9, 15*1.609344); math.Round(c*9/5+32) != -19 {
		t.Errorf("0 degF, 15 mph: %v degC", c)
	}
}

// Oracle: a sensor maker's note, a station's table, and Magnus with Sonntag's
// constants (WMO No. 8).
func TestDewPointRows(t *testing.T) {
	tolerance := map[string]float64{"app_note": 0.005, "station_table": 0.2}
	for _, row := range table(t, "dewpoint.csv")[1:] {
		temp, rh := number(t, row[0]), number(t, row[1])
		got := weather.DewPointC(temp, rh)
		if !near(got, number(t, row[4]), 1e-3) {
			t.Errorf("%v: dew point %v", row, got)
		}
		if !near(weather.SaturationHPa(temp), number(t, row[2]), 1e-3) {
			t.Errorf("%v: saturation %v", row, weather.SaturationHPa(temp))
		}
		if row[5] != "" && !near(got, number(t, row[5]), tolerance[row[6]]+1e-9) {
			t.Errorf("%v: dew point %v", row, got)
		}
	}
}

// Oracle: ICAO standard atmosphere, 15 degC dry = 1.2250; the rest computed
// apart from the gas law with the same constants.
func TestAirDensity(t *testing.T) {
	for _, c := range []struct{ temp, pressure, rh, want float64 }{
		{15, 1013.25, 0, 1.2250},
		{0, 1013.25, 0, 1.2923},
		{20, 1013.25, 0, 1.2041},
		{5, 1013.25, 80, 1.2658},
		{20, 1013.25, 50, 1.1989},
	} {
		if got := weather.AirDensityKgM3(c.temp, c.pressure, c.rh); !near(got, c.want, 0.00005) {
			t.Errorf("%+v: got %.5f", c, got)
		}
	}
	// ICAO standard atmosphere: 898.76 hPa at 1000 m (from memory).
	if got := weather.PressureHPa(1000); !near(got, 898.76, 0.1) {
		t.Errorf("pressure at 1000 m: %v", got)
	}
}

// Oracle: WMO code table 1100, least mean wind of each force in m/s.
func TestBeaufortBounds(t *testing.T) {
	for force, least := range []float64{0, 0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7} {
		if got := weather.BeaufortOf(least); int(got) != force {
			t.Errorf("%v m/s: force %d, want %d", least, got, force)
		}
		if below := weather.BeaufortOf(math.Nextafter(least, -1)); int(below) != force-1 {
			t.Errorf("just below %v m/s: force %d, want %d", least, below, force-1)
		}
	}
	if got := weather.BeaufortOf(9).String(); got != "fresh breeze" {
		t.Errorf("9 m/s is a %s", got)
	}
	for _, bad := range []weather.Beaufort{weather.BeaufortOf(math.NaN()), -7, 13} {
		if bad.String() != "wind unknown" {
			t.Errorf("force %d: %s", int(bad), bad)
		}
	}
}

// Oracle: Met Office fact sheet 3 (fog up to 1000 m, dense below 50).
func TestVisibilityClasses(t *testing.T) {
	for m, want := range map[float64]string{
		0: "dense fog", 49.9: "dense fog", 50: "thick fog", 199: "thick fog", 200: "fog", 1000: "fog",
		1001: "mist", 5000: "mist", 5001: "clear", math.Inf(1): "clear", -1: "visibility unknown",
	} {
		if got := weather.VisibilityOf(m).String(); got != want {
			t.Errorf("%v m: %s, want %s", m, got, want)
		}
	}
	if got := weather.VisibilityOf(math.NaN()); got != weather.VisibilityUnknown {
		t.Errorf("NaN: %v", got)
	}
}

func TestUndefinedIsNaN(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, v := range map[string]float64{
		"saturation too cold": weather.SaturationHPa(-45.1), "saturation NaN": weather.SaturationHPa(nan),
		"dew point rh 0": weather.DewPointC(10, 0), "dew point rh 100.1": weather.DewPointC(10, 100.1),
		"dew point NaN": weather.DewPointC(10, nan), "dew point inf": weather.DewPointC(inf, 50),
		"density no pressure": weather.AirDensityKgM3(10, 0, 50), "density rh": weather.AirDensityKgM3(10, 1000, -1),
		"density inf": weather.AirDensityKgM3(10, inf, 50), "density NaN": weather.AirDensityKgM3(nan, 1000, 50),
		"pressure": weather.PressureHPa(20000), "pressure NaN": weather.PressureHPa(nan),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %v", name, v)
		}
	}
	for _, c := range [][2]float64{{10.1, 20}, {0, 4.8}, {nan, 20}, {0, nan}, {math.Inf(-1), 20}, {0, inf}, {0, -5}} {
		if v, defined := weather.WindChillC(c[0], c[1]); defined || !math.IsNaN(v) {
			t.Errorf("wind chill %v: %v %v", c, v, defined)
		}
	}
}
