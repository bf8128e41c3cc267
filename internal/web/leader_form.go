package web

import (
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// inKm are the fields of a ride's lists that a form tells in km, and the protocol in metres.
const inKm = "at_distance_m"

// rideRows are the lists of a ride that a form has rows for, with what a row must have one of to count.
var rideRows = []struct {
	list string
	told []string
	// spare is how many empty rows stand below, most how many there can be.
	spare, most int
}{
	{"groups", []string{"title", "pace_kmh"}, 1, 10},
	{"stops", []string{"title", inKm}, 1, 10},
	{"hazards", []string{"what", inKm}, 2, 50},
	{"ways_out", []string{"what", inKm}, 1, 20},
	{"conditions.later", []string{"from_local", "weather.temperature_c", "weather.wind_kmh", "weather.gust_kmh", "weather.wet"}, 1, 48},
}

// rideFields are the fields of a ride that its form has: those that can be changed.
var rideFields = []string{
	"title", "leader", "start_local", "meeting_point", "groups", "stops", "hazards", "ways_out", "conditions", "places",
	"signup_opens_at", "signup_closes_at", "reason", "single_file", "leader_phone", "recorded_times",
}

// rideTimes are the fields of a ride that are instants, written in the club's civil time.
var rideTimes = []string{"signup_opens_at", "signup_closes_at"}

// closeUp takes empty rows out of a list of a form, so that its rows are counted as the request counts them. It gives how many
// are left.
func closeUp(form url.Values, list string, told []string, most int) int {
	next := 0
	for i := range maxListed {
		from := fmt.Sprintf("%s[%d].", list, i)
		full := slices.ContainsFunc(told, func(field string) bool { return strings.TrimSpace(form.Get(from+field)) != "" })
		for _, name := range sortedKeys(form) {
			field, ours := strings.CutPrefix(name, from)
			if !ours || full && i == next {
				continue
			}
			if full {
				form[fmt.Sprintf("%s[%d].%s", list, next, field)] = form[name]
			}
			delete(form, name)
		}
		if full {
			next++
		}
	}
	return min(next, most)
}

// countRows is how many rows a list of a form has.
func countRows(form url.Values, list string) int {
	most := 0
	for name := range form {
		rest, ours := strings.CutPrefix(name, list+"[")
		if digits, _, found := strings.Cut(rest, "]"); ours && found {
			if n, err := strconv.Atoi(digits); err == nil && n < maxListed {
				most = max(most, n+1)
			}
		}
	}
	return most
}

// rideIn reads the ride that a form describes. Before is the ride as it is, or what a new one begins with: it gives what the form
// does not ask. The error names each field that cannot be read.
func rideIn(form url.Values, zone string, before *pb.Ride) (*pb.Ride, error) {
	values := url.Values{}
	for _, rows := range rideRows {
		closeUp(form, "ride."+rows.list, rows.told, rows.most)
	}
	wrong := &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: "some of what was filled in cannot be taken"}
	for name, given := range form {
		value := strings.TrimSpace(given[0])
		switch {
		case strings.HasSuffix(name, "."+inKm) && value != "":
			metres, what := metresOf(value)
			if what != "" {
				wrong.Fields = append(wrong.Fields, fault.Field{Path: name, What: what})
				continue
			}
			value = metres
		case strings.HasSuffix(name, "_local"):
			value = civilOf(value)
		}
		values.Set(name, value)
	}
	ride := &pb.Ride{}
	gather(wrong, fillIn(ride, "ride", values))
	location, err := civil.Zone("zone", zone)
	if err != nil {
		return nil, err
	}
	for _, field := range rideTimes {
		path := "ride." + field
		if value := civilOf(values.Get(path)); value != "" {
			at, err := civil.Instant(path, value, location)
			gather(wrong, err)
			if err == nil {
				set := ride.ProtoReflect()
				set.Set(set.Descriptor().Fields().ByName(protoreflect.Name(field)), protoreflect.ValueOfMessage(timestamppb.New(at).ProtoReflect()))
			}
		}
	}
	if ride.StartLocal != "" {
		_, err := civil.Instant("ride.start_local", ride.StartLocal, location)
		gather(wrong, err)
	}
	tidyGroups(ride, before)
	tidyWeather(ride)
	if len(wrong.Fields) > 0 {
		slices.SortStableFunc(wrong.Fields, func(a, b fault.Field) int { return strings.Compare(a.Path, b.Path) })
		return nil, wrong
	}
	return ride, nil
}

// gather adds the fields of one error to another.
func gather(into *fault.Error, err error) {
	var one *fault.Error
	if errors.As(err, &one) {
		into.Fields = append(into.Fields, one.Fields...)
	}
}

// metresOf is a distance in km, as it was written, in metres.
func metresOf(km string) (metres, what string) {
	read, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(strings.TrimSuffix(km, "km")), ",", ".", 1), 64)
	if err != nil || !(read >= 0 && read <= 1000) {
		return "", fmt.Sprintf("%q is not a distance from the start, in km", km)
	}
	return strconv.FormatFloat(read*1000, 'f', 0, 64), ""
}

// kmOf is a distance in km, to the metre, as a form has it.
func kmOf(metres float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(metres/1000, 'f', 3, 64), "0"), ".")
}

// civilOf is a civil time as browsers send it, or as people write it: YYYY-MM-DDTHH:MM.
func civilOf(written string) string {
	written = strings.Replace(strings.TrimSpace(written), " ", "T", 1)
	if len(written) == len("2006-01-02T15:04:05") && strings.HasSuffix(written, ":00") {
		written = strings.TrimSuffix(written, ":00")
	}
	return written
}

// tidyGroups gives a new group an id made of its title, and one that was there before what the form does not ask.
func tidyGroups(ride, before *pb.Ride) {
	taken := map[string]bool{}
	for _, group := range ride.Groups {
		taken[group.Id] = true
	}
	for _, group := range ride.Groups {
		if group.Id == "" {
			base := strings.TrimLeft(names.Slug(group.Title, 26), "0123456789-")
			if base == "" {
				base = "group"
			}
			for n := 1; group.Id == "" || taken[group.Id]; n++ {
				group.Id = base
				if n > 1 {
					group.Id = fmt.Sprintf("%s-%d", base, n)
				}
			}
			taken[group.Id] = true
		}
		for _, old := range before.GetGroups() {
			if old.Id == group.Id {
				group.Settings = old.Settings
			}
		}
	}
}

// tidyWeather fills later hours: what an hour leaves open stays as it was before it.
func tidyWeather(ride *pb.Ride) {
	before := ride.GetConditions().GetStart()
	for _, hour := range ride.GetConditions().GetLater() {
		whole := &pb.Weather{}
		if before != nil {
			proto.Merge(whole, before)
		}
		if hour.Weather != nil {
			proto.Merge(whole, hour.Weather)
		}
		hour.Weather, before = whole, whole
	}
	if later := ride.GetConditions().GetLater(); len(later) > 0 && ride.Conditions.Start == nil {
		ride.Conditions.Start = &pb.Weather{}
	}
}

// rideFilled is the reverse of rideIn: what a form has for a ride.
func rideFilled(ride *pb.Ride, zone string) url.Values {
	shown := &pb.Ride{}
	for _, field := range rideFields {
		of := shown.ProtoReflect().Descriptor().Fields().ByName(protoreflect.Name(field))
		if ride.ProtoReflect().Has(of) {
			shown.ProtoReflect().Set(of, ride.ProtoReflect().Get(of))
		}
	}
	shown = proto.CloneOf(shown)
	for _, group := range shown.Groups {
		group.Settings = nil
	}
	if shown.Conditions != nil {
		shown.Conditions.EnteredAt = nil
	}
	form := filledFrom(shown, "ride")
	for name := range form {
		if strings.HasSuffix(name, "."+inKm) {
			if metres, err := strconv.ParseFloat(form.Get(name), 64); err == nil {
				form.Set(name, kmOf(metres))
			}
		}
	}
	for _, field := range rideTimes {
		message := ride.ProtoReflect()
		form.Del("ride." + field)
		if of := message.Descriptor().Fields().ByName(protoreflect.Name(field)); message.Has(of) {
			at, _ := message.Get(of).Message().Interface().(*timestamppb.Timestamp)
			if location, err := civil.Zone("zone", zone); err == nil {
				form.Set("ride."+field, at.AsTime().In(location).Format(civil.TimeLayout))
			}
		}
	}
	return form
}
