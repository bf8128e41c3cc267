package cli

import (
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// startWeather are the flags that tell the weather from the start on.
var startWeather = []string{"temperature", "wind", "wind-from", "gust", "humidity", "dew-point", "visibility", "wet", "recently-wet", "clear-sky"}

func (f *rideFlags) weatherGiven() bool {
	return slices.ContainsFunc(append([]string{"later", "source", "weather"}, startWeather...), f.set.Changed)
}

// applyWeather changes the weather from the start on; what was not given stays as it was.
func (f *rideFlags) applyWeather(ride *pb.Ride) error {
	if !f.weatherGiven() {
		return nil
	}
	if f.set.Changed("weather") {
		if f.weather != none {
			return usagef("--weather takes the word none only, for no weather entered by hand; tell it with --temperature and the like")
		}
		if slices.ContainsFunc(append([]string{"later", "source"}, startWeather...), f.set.Changed) {
			return usagef("--weather none goes without other weather")
		}
		ride.Conditions = nil
		return nil
	}
	if ride.Conditions == nil {
		ride.Conditions = &pb.Conditions{}
	}
	if f.set.Changed("source") {
		ride.Conditions.Source = f.source
	}
	if !slices.ContainsFunc(startWeather, f.set.Changed) && ride.Conditions.Start != nil {
		return nil
	}
	if ride.Conditions.Start == nil {
		ride.Conditions.Start = &pb.Weather{}
	}
	w := ride.Conditions.Start
	amounts, signs := weatherFields(w)
	for flag, value := range map[string]float64{"temperature": f.temperature, "wind": f.wind, "wind-from": f.windFrom,
		"gust": f.gust, "humidity": f.humidity, "dew-point": f.dewPoint, "visibility": f.visibility} {
		if f.set.Changed(flag) {
			*amounts[flag] = proto.Float64(value)
		}
	}
	for flag, value := range map[string]bool{"wet": f.wet, "recently-wet": f.recentlyWet, "clear-sky": f.clearSky} {
		if f.set.Changed(flag) {
			*signs[flag] = proto.Bool(value)
		}
	}
	if w.TemperatureC == nil && ride.Forecast == nil { // the one value of the weather that the protocol requires
		return usagef("weather needs --temperature")
	}
	return nil
}

// applyLater changes the weather of later hours; the list that is given takes the place of the one there. An hour keeps
// what it does not say from the one before it.
func (f *rideFlags) applyLater(ride *pb.Ride) error {
	if !f.set.Changed("later") {
		return nil
	}
	later, err := parseAll(f.later, func(text string) (*pb.HourWeather, error) {
		return laterOf(text, ride.GetStartLocal(), ride.Forecast != nil)
	})
	if err != nil {
		return err
	}
	before := ride.Conditions.GetStart()
	for _, hour := range later { // what an hour does not say stays as it was
		whole := &pb.Weather{}
		proto.Merge(whole, before)
		proto.Merge(whole, hour.Weather)
		hour.Weather, before = whole, whole
	}
	ride.Conditions.Later = later
	return nil
}

// instantFlag reads a flag with a civil time of the club; "none" is no time.
func instantFlag(s *session, flag, value string) (*timestamppb.Timestamp, error) {
	if value == none {
		return nil, nil
	}
	local, err := localTime(flag, value)
	if err != nil {
		return nil, err
	}
	zone, err := s.zone()
	if err != nil {
		return nil, err
	}
	return instantOf(flag, local, zone)
}
