package roster

import (
	"math"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/civil"
	"gritward/internal/weather"
	pb "gritward/proto/gritward/v1"
)

// spell is one weather from an instant on.
type spell struct {
	from time.Time
	// known is the weather as it is told, weather the same as the calculators take it.
	known   *pb.Weather
	weather weather.Conditions
	// entered are the fields that the leader entered, where a forecast gives the others.
	entered []string
	fogPct  float64 // 0 where not told
}

// timed is a weather from an instant on, from one source.
type timed struct {
	from    time.Time
	weather *pb.Weather
	fogPct  float64
}

// spells lays what the leader entered over the forecast; none when there is neither. The weather at the start holds
// before it too.
func spells(ride *pb.Ride, start time.Time, zone *time.Location) ([]spell, error) {
	own, err := entered(ride.Conditions, start, zone)
	if err != nil {
		return nil, err
	}
	cast := foreseen(ride.Forecast, start)
	var times []time.Time
	for _, one := range slices.Concat(own, cast) {
		times = append(times, one.from)
	}
	slices.SortFunc(times, time.Time.Compare)
	times = slices.CompactFunc(times, time.Time.Equal)
	var all []spell
	for _, at := range times {
		mine, theirs := inForce(own, at), inForce(cast, at)
		s := spell{from: at, fogPct: theirs.fogPct}
		s.known, s.entered = overlaid(mine.weather, theirs.weather)
		s.weather = readWeather(s.known)
		all = append(all, s)
	}
	return all, nil
}

// entered reads what the leader entered.
func entered(conditions *pb.Conditions, start time.Time, zone *time.Location) ([]timed, error) {
	if conditions.GetStart() == nil {
		return nil, nil
	}
	all := []timed{{from: start, weather: conditions.Start}}
	for _, later := range conditions.Later {
		from, err := civil.Instant("ride.conditions.later.from_local", later.FromLocal, zone)
		if err != nil {
			return nil, err
		}
		if !from.After(start) { // a late start came after it
			from, all = start, nil
		}
		all = append(all, timed{from: from, weather: later.Weather})
	}
	return all, nil
}

// foreseen reads the hours of a forecast from the one in force at the start on.
func foreseen(kept *pb.Forecast, start time.Time) []timed {
	if !Reaches(kept, start) {
		return nil
	}
	var all []timed
	for _, hour := range kept.Hours {
		from := hour.FromAt.AsTime()
		if !from.After(start) {
			from, all = start, nil
		}
		all = append(all, timed{from: from, weather: hour.Weather, fogPct: hour.GetFogPct()})
	}
	return all
}

// inForce is the last weather that has begun at an instant.
func inForce(all []timed, at time.Time) timed {
	var found timed
	for _, one := range all {
		if !one.from.After(at) {
			found = one
		}
	}
	return found
}

// overlaid lays what was entered over a forecast, and names the fields that were. Figures of the forecast that belong to
// another one that was entered are fitted to it or left out, so that the whole does not contradict itself.
func overlaid(own, cast *pb.Weather) (*pb.Weather, []string) {
	if own == nil || cast == nil {
		whole := &pb.Weather{}
		proto.Merge(whole, own)
		proto.Merge(whole, cast)
		return whole, nil
	}
	whole := proto.Clone(cast).(*pb.Weather)
	proto.Merge(whole, own)
	if own.GustKmh == nil && whole.GetGustKmh() < whole.GetWindKmh() {
		whole.GustKmh = nil
	}
	if own.HumidityPct == nil && own.TemperatureC != nil {
		whole.HumidityPct = nil // it was that of other air; the dew point stays what it is
	}
	if own.DewPointC == nil {
		whole.DewPointC = nil
		if own.HumidityPct == nil {
			whole.DewPointC = dewPoint(cast, whole.GetTemperatureC())
		}
	}
	var names []string
	own.ProtoReflect().Range(func(field protoreflect.FieldDescriptor, _ protoreflect.Value) bool {
		names = append(names, string(field.Name()))
		return true
	})
	slices.Sort(names)
	return whole, names
}

// dewPoint is the dew point of a forecast, at most the air temperature that was entered.
func dewPoint(cast *pb.Weather, tempC float64) *float64 {
	dew := readWeather(cast).DewPoint()
	if math.IsNaN(dew) {
		return nil
	}
	dew = min(dew, tempC)
	return &dew
}
