package render

import (
	"slices"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// events are dawn, sunrise, the end and the start of lights, sunset, dark and dusk, as far as the plan knows them, in order
// of time. The end of dark and of lights in the morning are left out where nobody starts before them.
func events(p *pb.RidePlan) []event {
	var out []event
	add := func(at *timestamppb.Timestamp, name string) {
		if at.IsValid() {
			out = append(out, event{at.AsTime(), name})
		}
	}
	dawn, sunrise, sunset, dusk := "first light", "sunrise", "sunset", "twilight ends"
	if slices.ContainsFunc(p.GetGroups(), func(g *pb.GroupPlan) bool { return phrase.FromDark(p, g) }) {
		if lightsGoOut(p) {
			out = append(out, event{phrase.LightsOut(p), "lights until"})
		}
		out = named(out, p.GetDarkEndsAt(), "dark ends", sunEvent{p.GetSunriseAt(), &sunrise}, sunEvent{p.GetCivilDawnAt(), &dawn})
	}
	if p.GetDarkBeginsAt().IsValid() {
		out = append(out, event{p.GetDarkBeginsAt().AsTime().Add(-p.GetMargin().AsDuration()), "lights from"})
		out = named(out, p.GetDarkBeginsAt(), "dark begins", sunEvent{p.GetSunsetAt(), &sunset}, sunEvent{p.GetCivilDuskAt(), &dusk})
	}
	add(p.GetCivilDawnAt(), dawn)
	add(p.GetSunriseAt(), sunrise)
	add(p.GetSunsetAt(), sunset)
	add(p.GetCivilDuskAt(), dusk)
	slices.SortStableFunc(out, func(a, b event) int { return a.at.Compare(b.at) })
	return out
}

// sunEvent is an event of the sun, whose name can take another that falls on the same minute.
type sunEvent struct {
	at   *timestamppb.Timestamp
	name *string
}

// named adds an event, or its name to that of the sun's event it falls together with.
func named(out []event, at *timestamppb.Timestamp, name string, suns ...sunEvent) []event {
	for _, sun := range suns {
		if near(at.AsTime(), sun.at) {
			*sun.name += ", " + name
			return out
		}
	}
	return append(out, event{at.AsTime(), name})
}

// lightsGoOut tells whether any group rides on without lights after the morning's dark.
func lightsGoOut(p *pb.RidePlan) bool {
	return slices.ContainsFunc(p.GetGroups(), func(g *pb.GroupPlan) bool {
		return phrase.FromDark(p, g) && slices.ContainsFunc(g.GetLight(), func(l *pb.LightSpan) bool { return !l.GetLit() })
	})
}

// near tells whether two instants are told as the same.
func near(at time.Time, other *timestamppb.Timestamp) bool {
	return other.IsValid() && at.Sub(other.AsTime()).Abs() < time.Minute
}
