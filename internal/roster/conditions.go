package roster

import (
	"math"
	"strings"
	"time"

	"gritward/internal/civil"
	"gritward/internal/daylight"
	"gritward/internal/fault"
	"gritward/internal/pace"
	"gritward/internal/weather"
	pb "gritward/proto/gritward/v1"
)

// spell is one weather from an instant on.
type spell struct {
	from    time.Time
	entered *pb.Weather
	weather weather.Conditions
}

// spells reads the conditions of a ride; none when nothing was entered. The weather at the start holds before it too.
func spells(conditions *pb.Conditions, start time.Time, zone *time.Location) ([]spell, error) {
	if conditions.GetStart() == nil {
		return nil, nil
	}
	all := []spell{{from: start, entered: conditions.Start, weather: readWeather(conditions.Start)}}
	for _, later := range conditions.Later {
		from, err := civil.Instant("ride.conditions.later.from_local", later.FromLocal, zone)
		if err != nil {
			return nil, err
		}
		all = append(all, spell{from: from, entered: later.Weather, weather: readWeather(later.Weather)})
	}
	return all, nil
}

// readWeather turns what was entered into what the calculators take; what was left out is unknown.
func readWeather(entered *pb.Weather) weather.Conditions {
	known := func(value *float64) float64 {
		if value == nil {
			return math.NaN()
		}
		return *value
	}
	return weather.Conditions{
		TempC: entered.GetTemperatureC(), WindKmh: entered.GetWindKmh(), WindFromDeg: entered.GetWindFromDeg(),
		GustKmh: entered.GetGustKmh(), RHPct: known(entered.HumidityPct), DewPointC: math.NaN(),
		Wet: entered.GetWet(), RecentWet: entered.GetRecentlyWet(), ClearSky: entered.GetClearSky(),
		VisibilityM: known(entered.VisibilityM),
	}
}

// SoundWeather refuses weather that contradicts itself: a gust below the mean wind, for one. FIELD_INVALID at path; no
// weather is fine.
func SoundWeather(path string, entered *pb.Weather) error {
	if entered == nil {
		return nil
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
