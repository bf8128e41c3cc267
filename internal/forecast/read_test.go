package forecast_test

import (
	"errors"
	"os"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"gritward/internal/forecast"
)

func sample(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("../../testdata/forecast/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func read(t *testing.T, data []byte) *forecast.Forecast {
	t.Helper()
	f, err := forecast.Read(data)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// excerpt has the figures of the excerpt in "General point forecast JSON format", Norwegian Meteorological Institute
// (api.met.no/doc/ForecastJSON): one instant of 10 June 2020.
const excerpt = `{"type": "Feature", "geometry": {"type": "Point", "coordinates": [10, 60.1, 267]}, "properties": {
 "meta": {"updated_at": "2020-06-10T13:04:26Z", "units": {"air_temperature": "celsius", "cloud_area_fraction": "%",
  "dew_point_temperature": "celsius", "fog_area_fraction": "%", "precipitation_amount": "mm", "relative_humidity": "%",
  "ultraviolet_index_clear_sky": "1", "wind_from_direction": "degrees", "wind_speed": "m/s", "wind_speed_of_gust": "m/s"}},
 "timeseries": [{"time": "2020-06-10T13:00:00Z", "data": {
  "instant": {"details": {"air_temperature": 20.7, "cloud_area_fraction": 58.0, "dew_point_temperature": 9.5,
   "fog_area_fraction": 0.0, "relative_humidity": 48.6, "ultraviolet_index_clear_sky": 4.7, "wind_from_direction": 151.8,
   "wind_speed": 2.5, "wind_speed_of_gust": 6.6}},
  "next_12_hours": {"summary": {"symbol_code": "partlycloudy_day"}},
  "next_1_hours": {"summary": {"symbol_code": "partlycloudy_day"}, "details": {"precipitation_amount": 0.0}},
  "next_6_hours": {"details": {"precipitation_amount": 0.3}}}}]}}`

func TestPublishedExcerpt(t *testing.T) {
	f := read(t, []byte(excerpt))
	want := forecast.Step{
		At: time.Date(2020, 6, 10, 13, 0, 0, 0, time.UTC), TempC: 20.7, WindKmh: 9, WindFromDeg: 151.8, GustKmh: 23.8,
		HumidityPct: 48.6, DewPointC: 9.5, CloudPct: 58, PrecipFor: time.Hour,
	}
	if f.LatDeg != 60.1 || f.LonDeg != 10 || f.AltM != 267 || !f.IssuedAt.Equal(time.Date(2020, 6, 10, 13, 4, 26, 0, time.UTC)) {
		t.Errorf("got %+v", f)
	}
	if len(f.Steps) != 1 || f.Steps[0] != want {
		t.Errorf("got %+v, want %+v", f.Steps, want)
	}
	if !f.Until(0).Equal(want.At.Add(time.Hour)) {
		t.Errorf("the only step ends %v", f.Until(0))
	}
}

// TestPeriods: where the next step is six hours off, the amount of the first hour does not stand for them all; the
// published excerpt twice, six hours apart.
func TestPeriods(t *testing.T) {
	one := excerpt[strings.Index(excerpt, `{"time"`):strings.LastIndex(excerpt, "]}}")]
	two := strings.Replace(excerpt, one, one+","+strings.Replace(one, "T13", "T19", 1), 1)
	if step := read(t, []byte(two)).Steps[0]; step.PrecipFor != 6*time.Hour || step.PrecipMM != 0.3 {
		t.Errorf("%v mm in %v", step.PrecipMM, step.PrecipFor)
	}
	alone := strings.ReplaceAll(two, `"next_6_hours": {"details": {"precipitation_amount": 0.3}}`, `"next_6_hours": {}`)
	if step := read(t, []byte(alone)).Steps[0]; step.PrecipFor != time.Hour || step.PrecipMM != 0 {
		t.Errorf("%v mm in %v", step.PrecipMM, step.PrecipFor)
	}
}

// TestNamesInPaths: a name is cut between characters, and one with what cannot be seen is quoted.
func TestNamesInPaths(t *testing.T) {
	for name, want := range map[string]string{
		strings.Repeat("é", 70):       strings.Repeat("é", 60) + "…: stands twice",
		"a\u202eb":                    `"a\u202eb": stands twice`,
		"x" + strings.Repeat("é", 59): "x" + strings.Repeat("é", 59) + ": stands twice",
	} {
		_, err := forecast.Read([]byte(`{"` + name + `": 1, "` + name + `": 2}`))
		if err == nil || !strings.HasSuffix(err.Error(), want) || !utf8.ValidString(err.Error()) {
			t.Errorf("%q: %v", name, err)
		}
	}
}

func TestSamples(t *testing.T) {
	for name, full := range map[string]bool{"compact.json": false, "marrowdale.json": true} {
		f := read(t, sample(t, name))
		if len(f.Steps) != 66 {
			t.Fatalf("%s: %d steps", name, len(f.Steps))
		}
		for i, step := range f.Steps {
			if forecast.Known(step.GustKmh) != full || forecast.Known(step.DewPointC) != full || forecast.Known(step.FogPct) != full {
				t.Errorf("%s: step %d has %+v", name, i, step)
			}
			period := time.Hour
			switch {
			case i == 65: // nothing follows the last instant
				period = 0
			case i >= 59:
				period = 6 * time.Hour
			}
			if step.PrecipFor != period || forecast.Known(step.PrecipMM) != (period > 0) {
				t.Errorf("%s: %v falls for %v, want %v", name, step.At, step.PrecipFor, period)
			}
		}
		noon := f.Steps[42]
		if !noon.At.Equal(time.Date(2026, 12, 13, 12, 0, 0, 0, time.UTC)) || noon.PrecipMM != 1.2 {
			t.Errorf("%s: noon is %+v", name, noon)
		}
		if got := f.Until(65).Sub(f.Steps[65].At); got != 6*time.Hour || !f.Until(0).Equal(f.Steps[1].At) {
			t.Errorf("%s: the last step lasts %v", name, got)
		}
	}
}

// Whatever is wrong is told with its place; the forecast as it should be differs in that place alone.
func TestBroken(t *testing.T) {
	swap := func(old, new string) string {
		if strings.Count(excerpt, old) == 0 {
			t.Fatalf("%q is not in the excerpt", old)
		}
		return strings.Replace(excerpt, old, new, 1)
	}
	const details = "properties.timeseries[0].data.instant.details."
	for _, c := range []struct{ name, data, want string }{
		{"empty", "", "is empty"},
		{"blank", " \n\t", "is empty"},
		{"huge", strings.Repeat(" ", forecast.MaxBytes) + excerpt, "is larger than 1024 KiB"},
		{"cut short", excerpt[:len(excerpt)-40], "ends too early"},
		{"cut in a word", excerpt[:9], "1:9: ends too early"},
		{"a page", "<html>busy</html>", "is not JSON"},
		{"UTF-16", "\xff\xfe{\x00}\x00", "not text in UTF-8"},
		{"Latin-1", swap("partlycloudy_day", "\xe5"), "not text in UTF-8"},
		{"gzip", "\x1f\x8b\x08\x00\x00", "not text in UTF-8"},
		{"two documents", excerpt + "{}", "something follows the end"},
		{"deep", strings.Repeat("[", 100000), "nests deeper than 32"},
		{"a list", "[]", "1:1: must be an object, not a list"},
		{"null", "null", "1:1: must be an object, not null"},
		{"NaN", swap("20.7", "NaN"), "is not JSON"},
		{"a name twice", swap(`"relative_humidity": 48.6`, `"air_temperature": 3`), details + "air_temperature: stands twice"},
		{"names with other case", swap(`"air_temperature": 20.7`, `"Air_Temperature": 20.7`), details + "air_temperature: is missing"},
		{"collection", swap(`"Feature"`, `"FeatureCollection"`), `type: is "FeatureCollection", not "Feature"`},
		{"line", swap(`"Point"`, `"LineString"`), "geometry.type: "},
		{"no place", swap("[10, 60.1, 267]", "[]"), "geometry.coordinates: must be longitude, latitude"},
		{"place as text", swap("[10, 60.1, 267]", `["10", 60.1]`), "geometry.coordinates[0]: must be a number, not text"},
		{"latitude before longitude", swap("[10, 60.1, 267]", "[60.1, 100]"), "geometry.coordinates[1]: 100 is not between -90 and 90"},
		{"no issue time", swap("updated_at", "made_at"), "properties.meta.updated_at: is missing"},
		{"issue time in words", swap(`"2020-06-10T13:04:26Z"`, `"today"`), `properties.meta.updated_at: "today" is not a time as`},
		{"issue time a number", swap(`"2020-06-10T13:04:26Z"`, "1591794266"), "properties.meta.updated_at: must be text, not a number"},
		{"kelvin", swap(`"air_temperature": "celsius"`, `"air_temperature": "K"`), `properties.meta.units.air_temperature: is "K"; only "celsius" is read`},
		{"knots", swap(`"wind_speed": "m/s"`, `"wind_speed": "knots"`), `properties.meta.units.wind_speed: is "knots"`},
		{"no unit", swap(`"wind_speed_of_gust": "m/s"`, `"other": "1"`), "properties.meta.units.wind_speed_of_gust: is missing"},
		{"unit a number", swap(`"precipitation_amount": "mm"`, `"precipitation_amount": 1`), "units.precipitation_amount: must be text"},
		{"no series", swap("timeseries", "series"), "properties.timeseries: is missing"},
		{"no wind", swap(`"wind_speed": 2.5,`, ""), details + "wind_speed: is missing"},
		{"no direction", swap(`"wind_from_direction": 151.8,`, ""), details + "wind_from_direction: is missing"},
		{"temperature as text", swap("20.7", `"20.7"`), details + "air_temperature: must be a number, not text"},
		{"temperature null", swap("20.7", "null"), details + "air_temperature: must be a number, not null"},
		{"temperature in kelvin", swap("20.7", "293.8"), details + "air_temperature: 293.8 is not between -40 and 45"},
		{"missing value", swap("20.7", "-9999"), details + "air_temperature: -9999 is not between"},
		{"endless number", swap("20.7", "1e999"), details + "air_temperature: 1e999 is not between"},
		{"wind below zero", swap(`"wind_speed": 2.5`, `"wind_speed": -2.5`), details + "wind_speed: -2.5 is not between"},
		{"gust below the wind", swap("6.6", "1.9"), details + "wind_speed_of_gust: 1.9 m/s is below the mean wind of 2.5 m/s"},
		{"dew point above the air", swap("9.5", "21.3"), details + "dew_point_temperature: 21.3 °C is above"},
		{"direction", swap("151.8", "400"), details + "wind_from_direction: 400 is not between 0 and 360"},
		{"rain below zero", swap(`"precipitation_amount": 0.0`, `"precipitation_amount": -1`), "next_1_hours.details.precipitation_amount: -1 is not"},
		{"time without zone", swap("13:00:00Z", "13:00:00"), "properties.timeseries[0].time: "},
		{"instant a list", swap(`{"details": {"air`, `[{"details": {"air`), "is not JSON"},
		{"period a number", swap(`{"summary": {"symbol_code": "partlycloudy_day"}, "details"`, `{"details": 3, "more"`), "next_1_hours.details: must be an object, not a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := forecast.Read([]byte(c.data))
			var made *forecast.Error
			if f != nil || !errors.As(err, &made) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, %v; want %q", f, err, c.want)
			}
		})
	}
}

func TestSeries(t *testing.T) {
	from := strings.Index(excerpt, `{"time"`)
	step := excerpt[from : len(excerpt)-3]
	series := func(steps ...string) []byte { return []byte(excerpt[:from] + strings.Join(steps, ",") + "]}}") }
	at := func(time string) string { return strings.Replace(step, "2020-06-10T13:00:00Z", time, 1) }
	later := at("2020-06-10T15:00:00+01:00") // 14:00 UTC
	if f := read(t, series(step, later)); len(f.Steps) != 2 || f.Steps[1].At.Hour() != 14 {
		t.Errorf("got %+v", f.Steps)
	}
	for want, data := range map[string][]byte{
		"timeseries: holds no weather":                                        series(),
		"timeseries[1].time: 2020-06-10T13:00:00Z is not after":               series(step, step),
		"timeseries[2].time: 2020-06-10T13:00:00Z is not after the":           series(step, later, step),
		"timeseries: holds 501 times, more than the 500 that are read":        series(strings.Split(strings.Repeat(`{}|`, 501), "|")[:501]...),
		"properties.timeseries[1]: must be an object, not text":               series(step, `"more"`),
		"properties.timeseries[1].data.instant.details: must be an object":    series(step, `{"time": "2020-06-10T14:00:00Z", "data": {"instant": {"details": []}}}`),
		"properties.timeseries[1].data.instant: is missing":                   series(step, `{"time": "2020-06-10T14:00:00Z", "data": {}}`),
		"properties.timeseries[1].time: is missing":                           series(step, `{}`),
		`properties.timeseries[0].time: "1066-10-14T09:00:00Z" is not a time`: series(at("1066-10-14T09:00:00Z")),
	} {
		if _, err := forecast.Read(data); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	// A mark of the byte order and rounding are passed over.
	f := read(t, []byte("\ufeff"+strings.NewReplacer("6.6", "2.4", "9.5", "20.9").Replace(excerpt)))
	if s := f.Steps[0]; s.GustKmh != s.WindKmh || s.DewPointC != s.TempC {
		t.Errorf("rounding: %+v", s)
	}
}

// A forecast cut anywhere is refused, but for its last line break.
func TestCutAnywhere(t *testing.T) {
	data := sample(t, "compact.json")
	rapid.Check(t, func(t *rapid.T) {
		if _, err := forecast.Read(data[:rapid.IntRange(0, len(data)-2).Draw(t, "cut")]); err == nil {
			t.Fatal("taken")
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(excerpt))
	f.Add(sample(f, "compact.json")[:3000])
	f.Add([]byte(`{"type":"Feature","type":"Feature"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := forecast.Read(data)
		var made *forecast.Error
		if err != nil && !errors.As(err, &made) || (err == nil) == (got == nil) {
			t.Fatalf("%v, %v", got, err)
		}
		if err != nil {
			return
		}
		for i, step := range got.Steps {
			if !(step.TempC >= -40 && step.TempC <= 45) || !(step.WindKmh >= 0 && step.WindKmh <= 150) ||
				step.GustKmh < step.WindKmh || step.GustKmh > 250 || step.DewPointC > step.TempC {
				t.Fatalf("step %d: %+v", i, step)
			}
			if !got.Until(i).After(step.At) {
				t.Fatalf("step %d ends when it begins", i)
			}
		}
	})
}
