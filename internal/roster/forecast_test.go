package roster_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"gritward/internal/forecast"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// series is a forecast by the hour from the evening before the ride, changed by a test.
func series(hours int, change func(i int, step *forecast.Step)) *forecast.Forecast {
	from := at("10:00").Add(-14 * time.Hour)
	f := &forecast.Forecast{LatDeg: 54.085, LonDeg: -2.285, AltM: math.NaN(), IssuedAt: from}
	for i := range hours {
		step := forecast.Step{
			At: from.Add(time.Duration(i) * time.Hour), TempC: 5, WindKmh: 10, WindFromDeg: 200, GustKmh: math.NaN(),
			HumidityPct: 80, DewPointC: math.NaN(), CloudPct: 90, FogPct: math.NaN(), PrecipFor: time.Hour,
		}
		if change != nil {
			change(i, &step)
		}
		f.Steps = append(f.Steps, step)
	}
	return f
}

func wanted() roster.ForecastFor {
	return roster.ForecastFor{Start: at("10:00"), ReadAt: at("07:10"), Now: at("07:10"), MaxAge: 12 * time.Hour, Origin: "test",
		Line: &pb.RouteLine{LatDeg: []float64{54.085, 54.2}, LonDeg: []float64{-2.285, -2.2}, ElevM: []float32{95, 431}}}
}

// word tells a sign that may be unknown.
func word(sign *bool) string {
	if sign == nil {
		return "unknown"
	}
	return fmt.Sprint(*sign)
}

// Rain wets the road; no rain leaves it dry only where the twelve hours before are known to have been.
func TestRainAndSkyOfAForecast(t *testing.T) {
	for _, c := range []struct {
		name             string
		hours            int
		change           func(int, *forecast.Step)
		wet, recent, sky string // at 10:00, the 14th hour
	}{
		{"dry all night", 30, nil, "false", "false", "false"},
		{"rain then", 30, func(i int, s *forecast.Step) {
			if i == 14 {
				s.PrecipMM = 0.1
			}
		}, "true", "false", "false"},
		{"rain in the hour before", 30, func(i int, s *forecast.Step) {
			if i == 13 {
				s.PrecipMM = 0.4
			}
		}, "unknown", "true", "false"},
		{"rain twelve hours before", 30, func(i int, s *forecast.Step) {
			if i == 2 {
				s.PrecipMM = 0.4
			}
		}, "unknown", "true", "false"},
		{"rain longer ago", 30, func(i int, s *forecast.Step) {
			if i == 1 {
				s.PrecipMM = 0.4
			}
		}, "false", "false", "false"},
		{"an hour of the night not told", 30, func(i int, s *forecast.Step) {
			if i == 8 {
				s.PrecipMM, s.CloudPct = math.NaN(), math.NaN()
			}
		}, "unknown", "unknown", "unknown"},
		{"clear in the night, at two eighths", 30, func(i int, s *forecast.Step) {
			if i == 8 {
				s.CloudPct = 25
			}
		}, "false", "false", "true"},
		{"just more cloud", 30, func(i int, s *forecast.Step) {
			if i == 8 {
				s.CloudPct = 25.1
			}
		}, "false", "false", "false"},
		{"told for the first hour of seven", 30, func(i int, s *forecast.Step) {
			if i >= 8 {
				s.At = s.At.Add(6 * time.Hour)
			}
		}, "unknown", "unknown", "false"},
		{"rain not told", 30, func(_ int, s *forecast.Step) { s.PrecipMM = math.NaN() }, "unknown", "unknown", "false"},
	} {
		t.Run(c.name, func(t *testing.T) {
			kept, err := roster.Forecast(series(c.hours, c.change), wanted())
			if err != nil {
				t.Fatal(err)
			}
			var w *pb.Weather
			for _, hour := range kept.Hours {
				if !hour.FromAt.AsTime().After(at("10:00")) {
					w = hour.Weather
				}
			}
			if got := [3]string{word(w.Wet), word(w.RecentlyWet), word(w.ClearSky)}; got != [3]string{c.wet, c.recent, c.sky} {
				t.Errorf("wet, before, sky: %v, want %s %s %s", got, c.wet, c.recent, c.sky)
			}
			if w.GustKmh != nil || w.VisibilityM != nil || w.GetTemperatureC() != 5 {
				t.Errorf("got %v", w)
			}
		})
	}
}

// A forecast read in the morning reaches back over no night: nothing is said of what it does not know.
func TestForecastOfTheMorning(t *testing.T) {
	f := series(30, nil)
	f.Steps = f.Steps[12:] // from 08:00
	kept, err := roster.Forecast(f, wanted())
	if err != nil {
		t.Fatal(err)
	}
	if w := kept.Hours[2].Weather; w.Wet != nil || w.RecentlyWet != nil || w.ClearSky != nil {
		t.Errorf("got %v", w)
	}
}

// A night of frost is told though the air is above freezing from the hour before the start on; frost longer ago than twelve
// hours, or at the start, is not. Hours after the forecast's end are told as not judged.
func TestFrostBeforeTheStart(t *testing.T) {
	for _, c := range []struct {
		name        string
		first, last int // hours of frost
		hours       int
		note        string
		notJudged   string
	}{
		{"until the hour before", 5, 12, 30, "It froze until 09:00, at down to -2 °C: ice can remain in shade", ""},
		{"until the start", 5, 13, 30, "It froze until 10:00, at down to", ""},
		{"at the start", 5, 14, 30, "", ""},
		{"long before", 0, 1, 30, "", ""},
		{"never, and the forecast ends on the way", 40, 41, 16, "", "Hours from 12:00 to "},
	} {
		t.Run(c.name, func(t *testing.T) {
			kept, err := roster.Forecast(series(c.hours, func(i int, s *forecast.Step) {
				if i >= c.first && i <= c.last {
					s.TempC = -2
				}
			}), wanted())
			if err != nil {
				t.Fatal(err)
			}
			planned := plan(t, func(ride *pb.Ride) { ride.Forecast = kept })
			notes := strings.Join(planned.Notes, "\n")
			if got := strings.Contains(notes, "It froze"); got != (c.note != "") || !strings.Contains(notes, c.note) {
				t.Errorf("notes: %s", notes)
			}
			beyond := strings.Join(planned.NotJudged, "\n")
			if got := strings.Contains(beyond, "Hours from"); got != (c.notJudged != "") || !strings.Contains(beyond, c.notJudged) {
				t.Errorf("not judged: %s", beyond)
			}
		})
	}
}

func TestForecastNotes(t *testing.T) {
	f := series(30, nil)
	f.AltM = 182
	f.Steps = append(f.Steps[:10:10], f.Steps[16:]...) // nothing from 06:00 to 12:00
	kept, err := roster.Forecast(f, wanted())
	if err != nil {
		t.Fatal(err)
	}
	notes := strings.Join(kept.Notes, "\n")
	for _, want := range []string{
		"in steps of 7 hours at the start",
		// 249 m higher at 6.5 °C a km is 1.6 °C, told up to the full degree.
		"The forecast is for 182 m above the sea; the route climbs to 431 m, where the air is some 2 °C colder.",
	} {
		if !strings.Contains(notes, want) {
			t.Errorf("notes do not say %q: %s", want, notes)
		}
	}
}

// What the leader enters holds, whatever the forecast says, and the rest is the forecast's; the whole is as sound as its
// parts.
func TestOwnWordsComeFirst(test *testing.T) {
	rapid.Check(test, func(t *rapid.T) {
		cold := rapid.Float64Range(-20, 20).Draw(t, "forecast air")
		kept, err := roster.Forecast(series(30, func(i int, s *forecast.Step) {
			s.TempC, s.DewPointC = cold, cold-rapid.Float64Range(0, 5).Draw(t, "spread")
			s.GustKmh = s.WindKmh + rapid.Float64Range(0, 30).Draw(t, "gust")
		}), wanted())
		if err != nil {
			t.Fatal(err)
		}
		own := &pb.Weather{}
		maybe := func(name string, least, most float64) *float64 {
			if !rapid.Bool().Draw(t, name+" given") {
				return nil
			}
			return proto.Float64(rapid.Float64Range(least, most).Draw(t, name))
		}
		own.TemperatureC, own.WindKmh, own.HumidityPct = maybe("air", -20, 20), maybe("wind", 0, 80), maybe("humidity", 1, 100)
		own.VisibilityM = maybe("visibility", 0, 9000)
		planned := plan(test, func(ride *pb.Ride) {
			ride.Forecast, ride.Conditions = kept, &pb.Conditions{Start: own}
		})
		for _, spell := range planned.Weather {
			w := spell.Weather
			for _, pair := range [][2]*float64{{own.TemperatureC, w.TemperatureC}, {own.WindKmh, w.WindKmh}, {own.HumidityPct, w.HumidityPct}, {own.VisibilityM, w.VisibilityM}} {
				if pair[0] != nil && *pair[0] != *pair[1] {
					t.Fatalf("entered %v, holds %v", own, w)
				}
			}
			if err := roster.SoundWeather("w", w, false); err != nil {
				t.Fatalf("%v over the forecast gives %v: %v", own, w, err)
			}
		}
	})
}
