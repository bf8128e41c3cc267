package roster

import (
	"math"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/daylight"
	"gritward/internal/fault"
	"gritward/internal/pace"
	"gritward/internal/weather"
	pb "gritward/proto/gritward/v1"
)

// readWeather turns what was entered into what the calculators take; what was left out is unknown.
func readWeather(entered *pb.Weather) weather.Conditions {
	given := func(value *float64) float64 {
		if value == nil {
			return math.NaN()
		}
		return *value
	}
	return weather.Conditions{
		TempC: entered.GetTemperatureC(), WindKmh: entered.GetWindKmh(), WindFromDeg: entered.GetWindFromDeg(),
		GustKmh: given(entered.GustKmh), RHPct: given(entered.HumidityPct), DewPointC: given(entered.DewPointC),
		Wet: entered.GetWet(), RecentWet: entered.GetRecentlyWet(), ClearSky: entered.GetClearSky(),
		VisibilityM: given(entered.VisibilityM),
	}
}

// SoundWeather refuses weather that contradicts itself: a gust below the mean wind, for one; and weather without a
// temperature, unless a forecast gives it. FIELD_INVALID at path; no weather is fine.
func SoundWeather(path string, entered *pb.Weather, forecast bool) error {
	switch {
	case entered == nil:
		return nil
	case entered.TemperatureC == nil && !forecast:
		return fault.Invalid(path+".temperature_c", "must be given where the ride has no forecast")
	case entered.TemperatureC == nil: // the dew point cannot be held against the air here
		entered = proto.Clone(entered).(*pb.Weather)
		entered.DewPointC = nil
	}
	if err := readWeather(entered).Validate(); err != nil {
		return fault.Invalid(path, "%s", strings.TrimPrefix(err.Error(), "weather: "))
	}
	return nil
}

// during gives the spells that touch an interval.
func during(all []spell, from, to time.Time) []spell {
	var touched []spell
	for i, s := range all {
		ends := i+1 < len(all) && !all[i+1].from.After(from)
		if !ends && (i == 0 || s.from.Before(to)) {
			touched = append(touched, s)
		}
	}
	return touched
}

// airs gives the weather as the pace takes it.
func airs(all []spell) []pace.Spell {
	var air []pace.Spell
	for _, s := range all {
		risk, _ := s.weather.Ice()
		humidity := s.weather.RHPct
		if math.IsNaN(humidity) {
			humidity = standardHumidityPct
		}
		air = append(air, pace.Spell{From: s.from, Air: pace.Air{
			WindKmh: s.weather.WindKmh, WindFromDeg: s.weather.WindFromDeg,
			AirDensityKgM3: weather.AirDensityKgM3(s.weather.TempC, standardPressureHPa, humidity),
			Wet:            s.weather.Wet, Icy: risk >= weather.Possible,
		}})
	}
	return air
}

// Air pressure at sea level of the ICAO standard atmosphere, and a humidity common in winter; neither moves a time by
// more than a few seconds.
const (
	standardPressureHPa = 1013.25
	standardHumidityPct = 80
)

// poor gives the intervals in which visibility is below the limit.
func poor(all []spell, limitM float64, end time.Time) []daylight.Interval {
	var intervals []daylight.Interval
	for i, s := range all {
		if !(s.weather.VisibilityM < limitM) {
			continue
		}
		from, to := s.from, end
		if i == 0 {
			from = from.Add(-24 * time.Hour)
		}
		if i+1 < len(all) {
			to = all[i+1].from
		}
		if to.After(from) {
			intervals = append(intervals, daylight.Interval{From: from, To: to})
		}
	}
	return intervals
}

// limits reads a policy's call-off limits.
func limits(callOff *pb.CallOff) weather.Limits {
	read := weather.NoLimits()
	if callOff == nil {
		return read
	}
	if callOff.FeelsLikeBelowC != nil {
		read.FeelsLikeBelowC = *callOff.FeelsLikeBelowC
	}
	if callOff.GustAboveKmh != nil {
		read.GustAboveKmh = *callOff.GustAboveKmh
	}
	if callOff.VisibilityBelowM != nil {
		read.VisibilityBelowM = *callOff.VisibilityBelowM
	}
	read.Ice = map[pb.CallOff_Ice]weather.IceRisk{
		pb.CallOff_POSSIBLE: weather.Possible, pb.CallOff_LIKELY: weather.Likely}[callOff.Ice]
	return read
}
