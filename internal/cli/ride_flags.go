package cli

import (
	"github.com/spf13/pflag"

	pb "gritward/proto/gritward/v1"
)

// rideFlags are the flags that say what a ride is; what they do to the weather is in ride_weather.go.
type rideFlags struct {
	set                                         *pflag.FlagSet
	gpx, title, start, meet, leader, phone      string
	reason, recordedTimes                       string
	groups, stops, hazards, waysOut, later      []string
	signupOpens, signupCloses                   string
	places                                      int32
	singleFile                                  bool
	temperature, wind, windFrom, gust, humidity float64
	visibility, dewPoint                        float64
	wet, recentlyWet, clearSky                  bool
	source, weather                             string
}

func addRideFlags(set *pflag.FlagSet) *rideFlags {
	f := &rideFlags{set: set}
	set.StringVar(&f.gpx, "gpx", "", "route as a GPX file")
	set.StringVar(&f.title, "title", "", "what the ride is called")
	set.StringVar(&f.start, "start", "", `first group's start in the club's civil time, "2026-12-13 09:00"`)
	set.StringVar(&f.meet, "meet", "", "where to meet")
	set.StringArrayVar(&f.groups, "group", nil, "group as "+groupForm+": pace on a flat road in still air, riders, minutes after the start, and what \"gritward pace\" lists (repeat)")
	set.StringArrayVar(&f.stops, "stop", nil, "stop as KM:MIN:TITLE (repeat; none: no stop)")
	set.StringArrayVar(&f.hazards, "hazard", nil, "hazard as KM:TEXT (repeat; none: no hazard)")
	set.StringArrayVar(&f.waysOut, "way-out", nil, "place to leave the ride early as KM:TEXT (repeat; none: no place)")
	set.StringVar(&f.signupOpens, "signup-opens", "", `when sign-up opens, "2026-12-07 18:00" (default at once; none: at once)`)
	set.StringVar(&f.signupCloses, "signup-closes", "", `when sign-up closes, "2026-12-12 20:00" (default at the start; none: at the start)`)
	set.Int32Var(&f.places, "places", 0, "places at sign-up; 0: no limit")
	set.StringVar(&f.leader, "leader", "", "member who leads the ride (default you)")
	set.StringVar(&f.phone, "phone", "", "ride leader's telephone for the day")
	set.BoolVar(&f.singleFile, "single-file", false, "single file instead of two abreast")
	set.StringVar(&f.reason, "reason", "", "why it goes out against the policy's limits")
	set.StringVar(&f.recordedTimes, "recorded-times", "", "what past rides do to the plan: use, show (beside it), or policy (as it says)")
	set.Float64Var(&f.temperature, "temperature", 0, "air temperature, °C")
	set.Float64Var(&f.wind, "wind", 0, "mean wind, km/h")
	set.Float64Var(&f.windFrom, "wind-from", 0, "where the wind comes from, degrees from north through east")
	set.Float64Var(&f.gust, "gust", 0, "gusts, km/h")
	set.Float64Var(&f.humidity, "humidity", 0, "relative humidity, %")
	set.Float64Var(&f.dewPoint, "dew-point", 0, "dew point, °C; counts before the humidity")
	set.Float64Var(&f.visibility, "visibility", 0, "visibility, m")
	set.BoolVar(&f.wet, "wet", false, "the road is wet, or it rains")
	set.BoolVar(&f.recentlyWet, "recently-wet", false, "it was wet in the twelve hours before")
	set.BoolVar(&f.clearSky, "clear-sky", false, "the sky is clear, or was in the night before")
	set.StringArrayVar(&f.later, "later", nil, "weather from an hour on as \""+laterForm+"\" (repeat; none: no change)")
	set.StringVar(&f.source, "source", "", `where the weather comes from, for example "forecast read at 07:10"`)
	set.StringVar(&f.weather, "weather", "", "none: take out all weather entered by hand; a forecast stays")
	return f
}

// apply puts what was given into the ride, and tells the fields it touched, as paths of an update mask.
func (f *rideFlags) apply(s *session, ride *pb.Ride) (mask []string, err error) {
	if err := f.applyWords(s, ride); err != nil {
		return nil, err
	}
	if err := f.applyLists(s, ride); err != nil {
		return nil, err
	}
	if err := f.applyWeather(ride); err != nil {
		return nil, err
	}
	if err := f.applyLater(ride); err != nil {
		return nil, err
	}
	for _, pair := range [][2]string{{"title", "title"}, {"leader", "leader"}, {"start", "start_local"},
		{"meet", "meeting_point"}, {"group", "groups"}, {"stop", "stops"}, {"hazard", "hazards"}, {"way-out", "ways_out"},
		{"places", "places"}, {"signup-opens", "signup_opens_at"}, {"signup-closes", "signup_closes_at"},
		{"reason", "reason"}, {"single-file", "single_file"}, {"phone", "leader_phone"}, {"recorded-times", "recorded_times"}} {
		if f.set.Changed(pair[0]) {
			mask = append(mask, pair[1])
		}
	}
	if f.weatherGiven() {
		mask = append(mask, "conditions")
	}
	return mask, nil
}

func (f *rideFlags) applyWords(s *session, ride *pb.Ride) (err error) {
	if f.set.Changed("start") {
		if ride.StartLocal, err = localTime("start", f.start); err != nil {
			return err
		}
	}
	if f.set.Changed("leader") {
		if ride.Leader, err = s.memberName(f.leader); err != nil {
			return err
		}
	}
	for _, word := range []struct {
		flag, value string
		into        *string
	}{{"title", f.title, &ride.Title}, {"meet", f.meet, &ride.MeetingPoint}, {"phone", f.phone, &ride.LeaderPhone},
		{"reason", f.reason, &ride.Reason}} {
		if f.set.Changed(word.flag) {
			*word.into = word.value
		}
	}
	if f.set.Changed("signup-opens") {
		if ride.SignupOpensAt, err = instantFlag(s, "signup-opens", f.signupOpens); err != nil {
			return err
		}
	}
	if f.set.Changed("signup-closes") {
		if ride.SignupClosesAt, err = instantFlag(s, "signup-closes", f.signupCloses); err != nil {
			return err
		}
	}
	if f.set.Changed("recorded-times") {
		if ride.RecordedTimes, err = recordedTimesOf(f.recordedTimes); err != nil {
			return err
		}
	}
	if f.set.Changed("places") {
		ride.Places = f.places
	}
	if f.set.Changed("single-file") {
		ride.SingleFile = f.singleFile
	}
	return nil
}

func (f *rideFlags) applyLists(s *session, ride *pb.Ride) error {
	if f.set.Changed("group") {
		groups, err := f.readGroups(s, ride.GetGroups())
		if err != nil {
			return err
		}
		ride.Groups = groups
	}
	if f.set.Changed("stop") {
		stops, err := parseAll(f.stops, stopOf)
		if err != nil {
			return err
		}
		ride.Stops = stops
	}
	for _, list := range []struct {
		flag   string
		values []string
		into   *[]*pb.PlaceNote
	}{{"hazard", f.hazards, &ride.Hazards}, {"way-out", f.waysOut, &ride.WaysOut}} {
		if !f.set.Changed(list.flag) {
			continue
		}
		notes, err := parseAll(list.values, func(text string) (*pb.PlaceNote, error) { return placeOf(list.flag, text) })
		if err != nil {
			return err
		}
		*list.into = notes
	}
	return nil
}
