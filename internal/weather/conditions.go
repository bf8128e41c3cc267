package weather

import (
	"fmt"
	"math"
)

// Conditions are the weather of a ride, as observed or as forecast elsewhere.
type Conditions struct {
	TempC       float64 // air, degC, -60 to 50
	WindKmh     float64 // mean wind at 10 m, km/h, 0 to 300
	GustKmh     float64 // strongest gust, km/h, at least WindKmh; 0 or NaN: not given
	WindFromDeg float64 // direction it blows from, degrees from north through east, 0 to 360
	RHPct       float64 // relative humidity, percent, above 0 to 100; NaN: unknown
	DewPointC   float64 // degC, at most TempC; NaN: unknown. Wins over RHPct if both are given
	Wet         bool    // the road is wet, or rain is expected
	RecentWet   bool    // the road has been wet in the last day and may not have dried
	ClearSky    bool    // clear, or was so overnight
	VisibilityM float64 // metres, 0 to 100000; NaN: unknown
}

// Validate names the first figure that is not a number where one is needed, or
// out of its range.
func (c Conditions) Validate() error {
	for _, f := range []struct {
		name      string
		v         float64
		low, high float64
		optional  bool
	}{
		{"temperature (°C)", c.TempC, -60, 50, false},
		{"wind (km/h)", c.WindKmh, 0, 300, false},
		{"gust (km/h)", c.GustKmh, 0, 300, true},
		{"wind direction (degrees)", c.WindFromDeg, 0, 360, false},
		{"relative humidity (%)", c.RHPct, 0, 100, true},
		{"dew point (°C)", c.DewPointC, -90, 50, true},
		{"visibility (m)", c.VisibilityM, 0, 100000, true},
	} {
		if f.optional && math.IsNaN(f.v) {
			continue
		}
		if !between(f.v, f.low, f.high) {
			return fmt.Errorf("weather: %s %v is not between %v and %v: correct it%s", f.name, f.v, f.low, f.high, orLeaveOut(f.optional))
		}
	}
	return c.contradiction()
}

func orLeaveOut(optional bool) string {
	if optional {
		return " or leave it out"
	}
	return ""
}

// dewPointSlackC allows for rounding where the dew point meets the air.
const dewPointSlackC = 0.5

func (c Conditions) contradiction() error {
	if c.RHPct == 0 {
		return fmt.Errorf("weather: relative humidity 0 %% does not occur outdoors: correct it or leave it out")
	}
	if c.GustKmh > 0 && c.GustKmh < c.WindKmh {
		return fmt.Errorf("weather: gust %v km/h is below the mean wind %v km/h: correct it or leave it out", c.GustKmh, c.WindKmh)
	}
	if c.DewPointC > c.TempC+dewPointSlackC {
		return fmt.Errorf("weather: dew point %v °C is above the air's %v °C: correct one of them", c.DewPointC, c.TempC)
	}
	return nil
}

// FeelsLikeC is the wind chill where it is defined, else the air temperature,
// degC. It is for somebody standing or walking in the mean wind: a rider's own
// speed makes it colder.
func (c Conditions) FeelsLikeC() float64 {
	if chill, defined := WindChillC(c.TempC, c.WindKmh); defined {
		return chill
	}
	return c.TempC
}

// DewPoint is the dew point as given, or from the humidity, or NaN.
func (c Conditions) DewPoint() float64 {
	if !math.IsNaN(c.DewPointC) {
		return c.DewPointC
	}
	return DewPointC(c.TempC, c.RHPct)
}

// strongestKmh is the gust, or the mean wind if that is more or all there is.
func (c Conditions) strongestKmh() float64 {
	if c.GustKmh > c.WindKmh {
		return c.GustKmh
	}
	return c.WindKmh
}
