package roster

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// tellWeather fills in the weather that a plan rests on while any group is out, where it comes from, and what it leaves
// unjudged.
func (p *planner) tellWeather(plan *pb.RidePlan) {
	start := p.ride.StartAt.AsTime()
	home := start
	for _, group := range plan.Groups {
		if at := group.HomeAt.AsTime(); at.After(home) {
			home = at
		}
	}
	out := during(p.spells, start, home.Add(time.Nanosecond))
	for _, s := range out {
		plan.Weather = append(plan.Weather, &pb.PlanWeather{
			FromAt: timestamppb.New(s.from), Weather: s.known, Entered: s.entered})
	}
	plan.WeatherBasis = p.basis(out)
	plan.NotJudged = p.notJudged(out)
	if plan.WeatherBasis == "" || !Reaches(p.ride.Forecast, start) {
		return
	}
	plan.Notes = append(plan.Notes, p.ride.Forecast.Notes...)
	if ends := p.ride.Forecast.Hours[len(p.ride.Forecast.Hours)-1].ToAt.AsTime(); ends.Before(home) {
		plan.NotJudged = append(plan.NotJudged, fmt.Sprintf("Hours from %s to %s: the forecast ends before them, and its last hour is taken to hold until home",
			ends.In(p.zone).Format("15:04"), home.In(p.zone).Format("15:04")))
	}
	if words := p.frozen(start); words != "" {
		plan.Notes = append(plan.Notes, words)
	}
	var foggiest spell
	for _, s := range out {
		if s.fogPct > foggiest.fogPct && s.known.VisibilityM == nil {
			foggiest = s
		}
	}
	if foggiest.fogPct > 0 {
		plan.Notes = append(plan.Notes, fmt.Sprintf(
			"Fog is forecast over up to %.0f %% of the area, most from %s, but not how far one will see: enter the visibility.",
			foggiest.fogPct, foggiest.from.In(p.zone).Format("15:04")))
	}
	if slices.ContainsFunc(out, func(s spell) bool { return s.known.Wet == nil }) {
		plan.Notes = append(plan.Notes, "Hours without rain are forecast in which the road may still be wet from before: look, and enter it.")
	}
}

// basis says on what the weather rests; empty for none.
func (p *planner) basis(out []spell) string {
	tell := func(at *timestamppb.Timestamp) string { return at.AsTime().In(p.zone).Format("Monday 2 January 15:04") }
	conditions, kept := p.ride.Conditions, p.ride.Forecast
	switch {
	case len(out) == 0:
		return ""
	case !Reaches(kept, p.ride.StartAt.AsTime()):
		words := "Weather as the ride leader entered it"
		if conditions.EnteredAt != nil {
			words += " on " + tell(conditions.EnteredAt)
		}
		if source := strings.TrimRight(conditions.Source, ". "); source != "" {
			words += "; source: " + source
		}
		return words
	}
	words := fmt.Sprintf("Weather from the forecast of %s (%s), read %s", tell(kept.IssuedAt), kept.Origin, readTime(kept, p.zone))
	if mine := overrides(out, p.zone); mine != "" {
		words += "; the ride leader's own figures before it: " + mine
	}
	return words
}

// readTime is the clock at which a forecast was read, with the day where that is another than the day of issue.
func readTime(kept *pb.Forecast, zone *time.Location) string {
	issued, read := kept.IssuedAt.AsTime().In(zone), kept.ReadAt.AsTime().In(zone)
	if issued.YearDay() == read.YearDay() && issued.Year() == read.Year() {
		return read.Format("15:04")
	}
	return read.Format("Monday 2 January 15:04")
}

// fieldNames are the fields of the weather as people call them, in the order in which they are told.
var fieldNames = [][2]string{
	{"temperature_c", "temperature"}, {"wind_kmh", "wind"}, {"wind_from_deg", "wind direction"}, {"gust_kmh", "gusts"},
	{"humidity_pct", "humidity"}, {"dew_point_c", "dew point"}, {"visibility_m", "visibility"}, {"wet", "wet or dry road"},
	{"recently_wet", "wet before"}, {"clear_sky", "sky"},
}

// overrides tells what the leader entered over a forecast, with the time where it does not hold from the start.
func overrides(out []spell, zone *time.Location) string {
	var words []string
	for _, field := range fieldNames {
		first := slices.IndexFunc(out, func(s spell) bool { return slices.Contains(s.entered, field[0]) })
		switch {
		case first == 0:
			words = append(words, field[1])
		case first > 0:
			words = append(words, field[1]+" from "+out[first].from.In(zone).Format("15:04"))
		}
	}
	return strings.Join(words, ", ")
}

// unjudged says why a limit for calling off cannot be judged.
var unjudged = map[string]string{
	"Gusts":      "Gusts: none are told; the limit is held against the mean wind alone",
	"Visibility": "Visibility: nothing says how far one will see",
	"Ice":        "Ice: without humidity or dew point, how likely frost is on a dry road cannot be told",
}

// notJudged says which limits for calling off cannot be judged somewhere on the way.
func (p *planner) notJudged(out []spell) []string {
	var said []string
	for _, s := range out {
		for _, name := range limits(p.policy.CallOff()).Unchecked(s.weather) {
			if !slices.Contains(said, unjudged[name]) {
				said = append(said, unjudged[name])
			}
		}
	}
	return said
}

// frozen says that it froze in the hours before a start, as far as the forecast tells of them. The ice table knows the air
// of the moment alone; a road in shade stays frozen long after that has warmed (common practice, no source).
func (p *planner) frozen(start time.Time) string {
	var until time.Time
	coldest := math.Inf(1)
	for _, hour := range p.ride.Forecast.Hours {
		from, to := hour.FromAt.AsTime(), hour.ToAt.AsTime()
		if hour.Weather.TemperatureC == nil || !from.Before(start) || !to.After(start.Add(-lookBack)) {
			continue
		}
		if tempC := hour.Weather.GetTemperatureC(); tempC <= 0 {
			until, coldest = to, min(coldest, tempC)
		}
	}
	if until.IsZero() || until.After(start) { // what freezes at the start is in the table
		return ""
	}
	return fmt.Sprintf("It froze until %s, at down to %.0f °C: ice can remain in shade, on bridges and where water seeps across, though the air is warmer.",
		until.In(p.zone).Format("15:04"), coldest+0)
}
