package weather_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/weather"
)

// mild is a valid set of conditions with everything known.
func mild() weather.Conditions {
	return weather.Conditions{
		TempC: 8, WindKmh: 15, GustKmh: 25, WindFromDeg: 240,
		RHPct: 75, DewPointC: math.NaN(), VisibilityM: 12000,
	}
}

func with(change func(*weather.Conditions)) weather.Conditions {
	c := mild()
	change(&c)
	return c
}

func TestValidate(t *testing.T) {
	if err := mild().Validate(); err != nil {
		t.Fatal(err)
	}
	unknown := with(func(c *weather.Conditions) {
		c.GustKmh, c.RHPct, c.DewPointC, c.VisibilityM = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	})
	if err := unknown.Validate(); err != nil {
		t.Errorf("unknown figures: %v", err)
	}
	for want, bad := range map[string]weather.Conditions{
		"temperature (°C) NaN":       with(func(c *weather.Conditions) { c.TempC = math.NaN() }),
		"temperature (°C) 51":        with(func(c *weather.Conditions) { c.TempC = 51 }),
		"wind (km/h) +Inf":           with(func(c *weather.Conditions) { c.WindKmh = math.Inf(1) }),
		"wind (km/h) NaN":            with(func(c *weather.Conditions) { c.WindKmh = math.NaN() }),
		"gust (km/h) -3":             with(func(c *weather.Conditions) { c.GustKmh = -3 }),
		"gust 12 km/h is below":      with(func(c *weather.Conditions) { c.GustKmh = 12 }),
		"wind direction (degrees) 3": with(func(c *weather.Conditions) { c.WindFromDeg = 361 }),
		"relative humidity (%) 101":  with(func(c *weather.Conditions) { c.RHPct = 101 }),
		"relative humidity 0 %":      with(func(c *weather.Conditions) { c.RHPct = 0 }),
		"dew point (°C) -Inf":        with(func(c *weather.Conditions) { c.DewPointC = math.Inf(-1) }),
		"dew point 9 °C is above":    with(func(c *weather.Conditions) { c.DewPointC = 9 }),
		"visibility (m) -1":          with(func(c *weather.Conditions) { c.VisibilityM = -1 }),
	} {
		if err := bad.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v does not say %q", err, want)
		}
	}
}

func TestFeelsLike(t *testing.T) {
	cold := with(func(c *weather.Conditions) { c.TempC, c.WindKmh = -10, 30 })
	if got := cold.FeelsLikeC(); math.Round(got) != -20 { // Environment Canada's chart
		t.Errorf("-10 degC, 30 km/h: %v", got)
	}
	for name, c := range map[string]weather.Conditions{
		"still": with(func(c *weather.Conditions) { c.TempC, c.WindKmh = -10, 4 }),
		"warm":  with(func(c *weather.Conditions) { c.TempC, c.WindKmh = 12, 60 }),
	} {
		if c.FeelsLikeC() != c.TempC {
			t.Errorf("%s: %v, want the air's %v", name, c.FeelsLikeC(), c.TempC)
		}
	}
}

// No published table exists for the whole; each case is argued beside it.
func TestIce(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		temp, rh, dew    float64
		wet, recent, sky bool
		want             weather.IceRisk
		why              string
	}{
		"mild and dry":                      {8, 70, nan, false, false, false, weather.None, ""},
		"mild and wet":                      {8, 95, nan, true, true, true, weather.None, ""},
		"freezing on a wet road":            {-0.5, 80, nan, true, false, false, weather.Likely, "standing water freezes"},
		"freezing after rain":               {0, 80, nan, false, true, false, weather.Likely, "standing water freezes"},
		"freezing fog":                      {-2, 99, nan, false, false, false, weather.Likely, "freezing fog"},
		"freezing, dry air":                 {-2, 50, nan, false, false, false, weather.Possible, "in shade"},
		"freezing, humidity unknown":        {-2, nan, nan, false, false, false, weather.Possible, "in shade"},
		"clear night after rain, +2":        {2, 70, nan, false, true, true, weather.Likely, "clear sky"},
		"cloudy after rain, +2":             {2, 70, nan, false, true, false, weather.Possible, "at or below 3"},
		"clear and moist, +1":               {1, nan, 0.5, false, false, true, weather.Likely, "moist enough for frost"},
		"clear, +3, humidity unknown":       {3, nan, nan, false, false, true, weather.Possible, "frost on bridges"},
		"clear, +3, dry air":                {3, nan, -4, false, false, true, weather.None, ""},
		"clear after rain, +4":              {4, 70, nan, false, true, true, weather.Possible, "at or below 4"},
		"clear after rain, +4.1":            {4.1, 70, nan, false, true, true, weather.None, ""},
		"dew point wins over the humidity":  {-1, 40, -1.2, false, false, false, weather.Likely, "nearly saturated"},
		"too cold for the humidity formula": {-50, 99, nan, false, false, false, weather.Possible, "in shade"},
	} {
		t.Run(name, func(t *testing.T) {
			got, why := weather.Conditions{
				TempC: c.temp, RHPct: c.rh, DewPointC: c.dew, Wet: c.wet, RecentWet: c.recent, ClearSky: c.sky,
			}.Ice()
			if got != c.want || !strings.Contains(why, c.why) || (why == "") != (got == weather.None) {
				t.Errorf("got %v %q, want %v %q", got, why, c.want, c.why)
			}
		})
	}
}

// Colder, wetter, clearer or moister must never lower the risk.
func TestIceNeverFallsAsThingsGetWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := weather.Conditions{
			TempC: rapid.Float64Range(-10, 8).Draw(t, "temp"), RHPct: math.NaN(),
			Wet:       rapid.Bool().Draw(t, "wet"),
			RecentWet: rapid.Bool().Draw(t, "recent"), ClearSky: rapid.Bool().Draw(t, "clear"),
		}
		spread := rapid.Float64Range(0, 6).Draw(t, "spread")
		c.DewPointC = c.TempC - spread
		worse := c
		worse.TempC -= rapid.Float64Range(0, 5).Draw(t, "colder")
		worse.DewPointC = worse.TempC - spread*rapid.Float64Range(0, 1).Draw(t, "moister")
		worse.Wet = c.Wet || rapid.Bool().Draw(t, "wetter")
		worse.ClearSky = c.ClearSky || rapid.Bool().Draw(t, "clearer")
		before, _ := c.Ice()
		after, _ := worse.Ice()
		if after < before {
			t.Fatalf("%+v is %v, yet %+v is %v", c, before, worse, after)
		}
	})
}

func TestIceTableIsReadFromTheWorst(t *testing.T) {
	last := weather.Likely
	for _, row := range weather.IceTable() {
		if row.Risk > last || row.Risk == weather.None || row.Why == "" {
			t.Errorf("row out of order or without a reason: %+v", row)
		}
		last = row.Risk
	}
}

func TestBreaches(t *testing.T) {
	nan := math.NaN()
	club := weather.Limits{FeelsLikeBelowC: -8, GustAboveKmh: 70, VisibilityBelowM: 100, Ice: weather.Likely}
	foul := weather.Conditions{
		TempC: -3, WindKmh: 40, GustKmh: 72, RHPct: nan, DewPointC: nan, RecentWet: true, VisibilityM: 60,
	}
	want := []weather.Breach{
		{What: "Feels like", Limit: "below -8 °C", Found: "feels like -11.4 °C: air -3 °C, wind 40 km/h"},
		{What: "Gusts", Limit: "above 70 km/h", Found: "wind up to 72 km/h"},
		{What: "Visibility", Limit: "below 100 m", Found: "thick fog, 60 m"},
		{What: "Ice", Limit: "when likely", Found: "ice is likely: air at or below 0 °C and the road is or has lately been wet: standing water freezes"},
	}
	if diff := cmp.Diff(want, club.Breaches(foul)); diff != "" {
		t.Error(diff)
	}
	if got := want[1].String(); got != "Wind up to 72 km/h; the limit for calling a ride off is above 70 km/h." {
		t.Error(got)
	}
	if got := weather.NoLimits().Breaches(foul); got != nil {
		t.Errorf("no limits: %v", got)
	}
	if got := club.Breaches(mild()); got != nil {
		t.Errorf("mild: %v", got)
	}
}

func TestBreachesAtTheEdge(t *testing.T) {
	club := weather.Limits{FeelsLikeBelowC: 0, GustAboveKmh: 70, VisibilityBelowM: 100, Ice: weather.Possible}
	at := with(func(c *weather.Conditions) {
		c.TempC, c.WindKmh, c.GustKmh, c.VisibilityM = 0, 3, 70, 100
		c.DewPointC = -20
	})
	if got := club.Breaches(at); len(got) != 1 || got[0].What != "Ice" || got[0].Limit != "when possible or likely" {
		t.Errorf("on the limits: %v", got)
	}
	past := with(func(c *weather.Conditions) { c.TempC, c.WindKmh, c.GustKmh = -0.04, 3, math.NaN() })
	if got := club.Breaches(past); len(got) == 0 || !strings.Contains(got[0].Found, "-0.04") {
		t.Errorf("a hair past the limit must not read like the limit: %v", got)
	}
}

func TestUnchecked(t *testing.T) {
	club := weather.Limits{FeelsLikeBelowC: -8, GustAboveKmh: 70, VisibilityBelowM: 100, Ice: weather.Likely}
	blind := with(func(c *weather.Conditions) { c.TempC, c.RHPct, c.VisibilityM = -1, math.NaN(), math.NaN() })
	if diff := cmp.Diff([]string{"Visibility", "Ice"}, club.Unchecked(blind)); diff != "" {
		t.Error(diff)
	}
	for name, judged := range map[string]weather.Conditions{
		"a wet road freezes whatever the air": with(func(c *weather.Conditions) { c.TempC, c.RHPct, c.Wet = -1, math.NaN(), true }),
		"too warm for any ice":                with(func(c *weather.Conditions) { c.RHPct = math.NaN() }),
		"possible at most":                    with(func(c *weather.Conditions) { c.TempC, c.RHPct, c.ClearSky = 2.5, math.NaN(), true }),
	} {
		if got := club.Unchecked(judged); got != nil {
			t.Errorf("%s: %v", name, got)
		}
	}
	gentle := with(func(c *weather.Conditions) { c.GustKmh = 0 })
	if diff := cmp.Diff([]string{"Gusts"}, club.Unchecked(gentle)); diff != "" {
		t.Error(diff)
	}
	if got := club.Unchecked(mild()); got != nil {
		t.Errorf("all known: %v", got)
	}
	if got := weather.NoLimits().Unchecked(blind); got != nil {
		t.Errorf("no limits: %v", got)
	}
}
