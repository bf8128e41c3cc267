package render

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// RoutePlace is a place on the way, numbered as it is on the map and in the profile.
type RoutePlace struct {
	Number int
	// Kind is "climb", "descent", "stop", "hazard" or "out"; Word tells it.
	Kind, Word string
	// Km is how far along the route, What what is there.
	Km, What string

	at float64
}

// ID begins the id of the place's entry.
func (p RoutePlace) ID() string { return fmt.Sprintf("way-%d", p.Number) }

// routePlaces are the places of a ride in the order of the way: climbs and steep descents at their foot and their top, stops
// with when each group comes there, hazards, ways out.
func routePlaces(line *pb.RouteLine, ride *pb.Ride, groups []*pb.GroupPlan, w phrase.Watch) []RoutePlace {
	var out []RoutePlace
	add := func(at float64, kind, word, what string) {
		out = append(out, RoutePlace{Kind: kind, Word: word, Km: phrase.Km(at), What: what, at: at})
	}
	for _, climb := range line.GetClimbs() {
		add(climb.GetFromM(), "climb", "Climb", slopeWords(climb, "up"))
	}
	for _, descent := range line.GetDescents() {
		add(descent.GetFromM(), "descent", "Steep descent", slopeWords(descent, "down"))
	}
	for _, stop := range ride.GetStops() {
		what := phrase.Bare(stop.GetTitle()) + ", " + phrase.Counted(int(stop.GetMinutes()), "minute", "minutes") + "."
		for _, group := range groups {
			if p := phrase.StopAt(group, stop); p != nil {
				what += " " + planTitle(group) + " about " + w.Clock(p.GetAt()) + "."
			}
		}
		add(stop.GetAtDistanceM(), "stop", "Stop", what)
	}
	for _, hazard := range ride.GetHazards() {
		add(hazard.GetAtDistanceM(), "hazard", "Hazard", phrase.Sentence(hazard.GetWhat()))
	}
	for _, way := range ride.GetWaysOut() {
		add(way.GetAtDistanceM(), "out", "Way out", phrase.Sentence(way.GetWhat()))
	}
	slices.SortStableFunc(out, func(a, b RoutePlace) int { return cmp.Compare(a.at, b.at) })
	for i := range out {
		out[i].Number = i + 1
	}
	return out
}

func slopeWords(s *pb.Slope, way string) string {
	return fmt.Sprintf("%s at %s %%, %s m %s; steepest %s %%.", phrase.Km(s.GetToM()-s.GetFromM()), phrase.Number(math.Abs(s.GetMeanPct()), 0),
		phrase.Number(math.Abs(s.GetGainM()), 0), way, phrase.Number(math.Abs(s.GetSteepestPct()), 0))
}

// routeWords tell a route in a sentence.
func routeWords(route *pb.RouteSummary, places []RoutePlace) string {
	shape := map[pb.RouteSummary_Shape]string{pb.RouteSummary_LOOP: "A loop of ", pb.RouteSummary_OUT_AND_BACK: "Out and back, "}[route.GetShape()]
	words := shape + phrase.Km(route.GetDistanceM())
	if route.GetHasElevation() {
		words += " with " + phrase.Number(route.GetAscentM(), 0) + " m of climbing"
	}
	counts := map[string]int{}
	for _, place := range places {
		counts[place.Kind]++
	}
	var parts []string
	for _, kind := range []struct{ kind, one, many string }{
		{"climb", "climb", "climbs"}, {"descent", "steep descent", "steep descents"}, {"stop", "stop", "stops"}, {"hazard", "hazard", "hazards"}, {"out", "way out", "ways out"},
	} {
		if n := counts[kind.kind]; n > 0 {
			parts = append(parts, phrase.Counted(n, kind.one, kind.many))
		}
	}
	if len(parts) > 0 {
		words += ": " + phrase.List(parts)
	}
	return words + "."
}
