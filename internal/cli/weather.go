package cli

import (
	"math"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/civil"
	pb "gritward/proto/gritward/v1"
)

// laterForm is how the weather from an hour on is written.
const laterForm = `HH:MM temperature=3 [wind=20] [wind-from=240] [gust=45] [humidity=90] [dew-point=1] [visibility=80] [wet=true] [recently-wet=true] [clear-sky=true]`

// laterOf reads the weather from an hour on. The date is that of the start, or the next day when the clock stands before
// the start's; it may be written before the time.
func laterOf(text, startLocal string, forecast bool) (*pb.HourWeather, error) {
	words := strings.Fields(text)
	if len(words) < 2 {
		return nil, usagef("--later %q does not begin with a time and a value of it; write it as %q, for example \"12:00 temperature=5 wet=true\"", text, laterForm)
	}
	from, words, err := laterTime(words, startLocal)
	if err != nil {
		return nil, err
	}
	weather := &pb.Weather{}
	amounts, signs := weatherFields(weather)
	for _, word := range words {
		key, value, _ := strings.Cut(word, "=")
		if into, ok := amounts[key]; ok {
			v, err := finite(value)
			if err != nil {
				return nil, usagef("--later %q: %s=%q is not a number", text, key, value)
			}
			*into = proto.Float64(v)
			continue
		}
		into, ok := signs[key]
		v, err := strconv.ParseBool(value)
		if !ok || err != nil {
			return nil, usagef("--later %q: %q is not as in %q", text, word, laterForm)
		}
		*into = proto.Bool(v)
	}
	if weather.TemperatureC == nil && !forecast { // the one value of the weather that the protocol requires without a forecast
		return nil, usagef("--later %q needs temperature=", text)
	}
	return &pb.HourWeather{FromLocal: from, Weather: weather}, nil
}

// laterTime takes the time off the head of the words.
func laterTime(words []string, startLocal string) (from string, rest []string, err error) {
	if hour, minute, ok := clockOf(words[0]); ok {
		start, err := time.Parse(civil.TimeLayout, startLocal)
		if err != nil {
			return "", nil, usagef("--later %q needs its date too: the ride's start is not known", words[0])
		}
		at := time.Date(start.Year(), start.Month(), start.Day(), hour, minute, 0, 0, time.UTC)
		if !at.After(start) {
			at = at.AddDate(0, 0, 1)
		}
		return at.Format(civil.TimeLayout), words[1:], nil
	}
	from, err = localTime("later", strings.Join(words[:2], " "))
	return from, words[2:], orClock(err, "the first such time after the start")
}

// weatherFields are the values of the weather by the words of their flags.
func weatherFields(w *pb.Weather) (amounts map[string]**float64, signs map[string]**bool) {
	return map[string]**float64{
			"temperature": &w.TemperatureC, "wind": &w.WindKmh, "wind-from": &w.WindFromDeg, "gust": &w.GustKmh,
			"humidity": &w.HumidityPct, "dew-point": &w.DewPointC, "visibility": &w.VisibilityM,
		}, map[string]**bool{
			"wet": &w.Wet, "recently-wet": &w.RecentlyWet, "clear-sky": &w.ClearSky,
		}
}

// weatherWords tells what is known of the weather on one line.
func weatherWords(w *pb.Weather) string {
	var parts []string
	add := func(known bool, words string) {
		if known {
			parts = append(parts, words)
		}
	}
	if w == nil {
		return ""
	}
	add(w.TemperatureC != nil, signed(w.GetTemperatureC())+" °C")
	add(w.WindKmh != nil || w.WindFromDeg != nil, windWords(w))
	add(w.GustKmh != nil, "gusts "+number(w.GetGustKmh())+" km/h")
	add(w.HumidityPct != nil, "humidity "+number(w.GetHumidityPct())+" %")
	add(w.DewPointC != nil, "dew point "+signed(w.GetDewPointC())+" °C")
	add(w.VisibilityM != nil, "visibility "+sight(w.GetVisibilityM()))
	either := func(value *bool, yes, no string) {
		if value != nil && *value {
			no = yes
		}
		add(value != nil, no)
	}
	either(w.Wet, "a wet road", "a dry road")
	either(w.RecentlyWet, "wet in the hours before", "dry in the hours before")
	either(w.ClearSky, "a clear sky", "a cloudy sky")
	return strings.Join(parts, ", ")
}

// windWords tells speed and direction, to eight points with the degrees behind.
func windWords(w *pb.Weather) string {
	words := "wind"
	if w.WindKmh != nil {
		words += " " + number(w.GetWindKmh()) + " km/h"
	}
	if deg := w.GetWindFromDeg(); w.WindFromDeg != nil && deg >= 0 && deg <= 360 {
		points := []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
		words += " from the " + points[int(math.Round(deg/45))%len(points)] + " (" + number(deg) + "°)"
	}
	return words
}

// sight tells a visibility given in m.
func sight(m float64) string {
	if m >= 1000 {
		return km(m)
	}
	return number(m) + " m"
}

// signed is number with a true minus sign.
func signed(v float64) string { return strings.Replace(number(v), "-", "−", 1) }
