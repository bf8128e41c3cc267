package web

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"

	pb "gritward/proto/gritward/v1"
)

// rideForm is the form in which a ride is described, new or as it is.
type rideForm struct {
	led
	// Earlier are rides whose route and groups a new one can begin with, Like is the one that was chosen.
	Earlier []*pb.Ride
	Like    *pb.Ride
	// Waypoints are those of the route as it is.
	Waypoints []*pb.Waypoint
	people    []*pb.Member
	// begun is what stands in the form before anything is typed.
	begun url.Values
	rows  map[string]int
}

func (m *rideForm) filled(f *Form) {
	f.with(m.begun)
	m.rows = map[string]int{}
	for _, one := range rideRows {
		spare := one.spare
		if f.Values.Get("more") == one.list {
			spare += 3
		}
		m.rows[one.list] = min(countRows(f.Values, "ride."+one.list)+spare, one.most)
	}
	f.Values.Del("more")
}

// row is one entry of a list: what is always seen of it, and what few need.
type row struct {
	Heading      string
	Kept         []Field
	Fields, More []Field
}

// listed makes the rows of a list, each with fields named below it.
func (m *rideForm) listed(list, one string, fields func(at string) row) []row {
	var rows []row
	for i := range m.rows[list] {
		made := fields(fmt.Sprintf("ride.%s[%d].", list, i))
		made.Heading = fmt.Sprintf("%s %d", one, i+1)
		rows = append(rows, made)
	}
	return rows
}

// Groups are the rows of the groups.
func (m *rideForm) Groups(f Form) []row {
	return m.listed("groups", "Group", func(at string) row {
		return row{
			Kept: []Field{{Name: at + "id", Value: f.Values.Get(at + "id")}},
			Fields: []Field{f.Text(at+"title", "Name", "", 60),
				f.Number(at+"pace_kmh", "Pace on a flat road", "", "km/h", "8", "50", "")},
			More: []Field{f.Number(at+"start_offset_min", "Starts after the ride’s start", "", "min", "0", "180", "1"),
				f.Number(at+"min_size", "Fewest riders", "Empty: as the policy says.", "", "0", "100", "1"),
				f.Number(at+"max_size", "Most riders", "Empty: as the policy says.", "", "0", "100", "1"),
				f.Select(at+"leader", "Leads it", "", m.who("whoever suits best", func(p *pb.Member) bool { return p.MayLead })...),
				f.Select(at+"back_marker", "Marks the back", "", m.who("whoever suits best", func(p *pb.Member) bool { return p.MayMarkBack })...)},
		}
	})
}

// Stops are the rows of the planned stops.
func (m *rideForm) Stops(f Form) []row {
	return m.listed("stops", "Stop", func(at string) row {
		return row{Fields: []Field{f.Text(at+"title", "Where", "", 60), f.Number(at+inKm, "From the start", "", "km", "0", "1000", ""),
			f.Number(at+"minutes", "How long", "", "min", "1", "240", "1")}}
	})
}

// Hazards and WaysOut are the rows of notes about places.
func (m *rideForm) Hazards(f Form) []row { return m.notes(f, "hazards", "Hazard") }

// WaysOut are the rows of places to leave the ride early.
func (m *rideForm) WaysOut(f Form) []row { return m.notes(f, "ways_out", "Way out") }

func (m *rideForm) notes(f Form, list, one string) []row {
	return m.listed(list, one, func(at string) row {
		return row{Fields: []Field{f.Text(at+"what", "What", "", 200), f.Number(at+inKm, "From the start", "", "km", "0", "1000", "")}}
	})
}

// Weather are the fields of the weather at the start.
func (m *rideForm) Weather(f Form) []Field {
	at := "ride.conditions.start."
	return append([]Field{f.Number(at+"temperature_c", "Air temperature", "", "°C", "-40", "45", "")}, append(m.weather(f, at),
		f.Number(at+"humidity_pct", "Humidity", "", "%", "1", "100", ""),
		f.Number(at+"dew_point_c", "Dew point", "Counts before the humidity.", "°C", "-60", "45", ""),
		f.Select(at+"recently_wet", "Was it wet in the twelve hours before?", "", unsure...),
		f.Select(at+"clear_sky", "Is the sky clear, or was it at night?", "", unsure...))...)
}

// Later are the rows of weather that changes on the way.
func (m *rideForm) Later(f Form) []row {
	return m.listed("conditions.later", "Change", func(at string) row {
		fields := []Field{f.field("datetime-local", at+"from_local", "From", ""),
			f.Number(at+"weather.temperature_c", "Air temperature", "", "°C", "-40", "45", "")}
		return row{Fields: append(fields, m.weather(f, at+"weather.")...)}
	})
}

var unsure = []string{"", "not known", "true", "yes", "false", "no"}

func (m *rideForm) weather(f Form, at string) []Field {
	return []Field{
		f.Number(at+"wind_kmh", "Wind", "", "km/h", "0", "150", ""),
		f.Select(at+"wind_from_deg", "Wind comes from", "", winds(f.Values.Get(at+"wind_from_deg"))...),
		f.Number(at+"gust_kmh", "Gusts", "", "km/h", "0", "250", ""),
		f.Number(at+"visibility_m", "Visibility", "", "m", "0", "100000", ""),
		f.Select(at+"wet", "Is the road wet, or does it rain?", "", unsure...),
	}
}

// winds are the quarters that wind comes from, and the degrees that were told where they are none of these.
func winds(told string) []string {
	pairs := []string{"", "not known"}
	for i, name := range []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"} {
		pairs = append(pairs, strconv.Itoa(45*i), name)
	}
	if told != "" && !slices.Contains(pairs, told) {
		pairs = append(pairs, told, told+"°")
	}
	return pairs
}

// Start is the field of the start, Opens and Closes are those of the times of sign-up.
func (m *rideForm) Start(f Form) Field {
	return f.Needed(f.field("datetime-local", "ride.start_local", "Start of the first group", ""))
}

// Opens is when sign-up opens.
func (m *rideForm) Opens(f Form) Field {
	return f.field("datetime-local", "ride.signup_opens_at", "Sign-up opens", "Empty: at once.")
}

// Closes is when sign-up closes.
func (m *rideForm) Closes(f Form) Field {
	return f.field("datetime-local", "ride.signup_closes_at", "Sign-up closes", "Empty: at the start.")
}

// Leader is the field of who leads the ride.
func (m *rideForm) Leader(f Form) Field {
	return f.Select("ride.leader", "Ride leader", "With another leader, the telephone number is asked anew.",
		m.who("", func(p *pb.Member) bool { return slices.Contains(p.Roles, pb.Role_LEADER) })...)
}

// who are the members to choose from; none is what it says when nobody is chosen, "" where somebody must be.
func (m *rideForm) who(none string, may func(*pb.Member) bool) []string {
	var pairs []string
	if none != "" {
		pairs = []string{"", none}
	}
	for _, one := range m.people {
		if may(one) {
			pairs = append(pairs, one.Name, one.DisplayName)
		}
	}
	return pairs
}
