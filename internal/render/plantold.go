package render

import (
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// GroupTold is what a page tells of a group's plan, in words; what is not known is empty.
type GroupTold struct {
	Group, Title  string
	Pace          string // "23.5 km/h"
	Leaves, Home  string
	AgainstDark   string // "25 min before dark"
	Lights        string // "lights for 1 h 5 min, 20 min of it dark"
	StartWord     string // "Start by"
	Start         string // "11:05 to be home 30 min before dark"
	Worse         string // "after 11:46, Ida Marl is held in it"
	Riders        int    // on whom that rests
	Ride          string // "77.9 km in 3 h 20 min of riding"
	RestsOn       string
	Hardest, Ice  string
	Stops         []string // "12:10 to 12:50 Tollgate barn, at 36.5 km"
	InDark        bool
	CutsFromLight bool // the latest start lies before the planned one
}

// PlanTold tells a plan by groups. Times are told in zone, an IANA name.
func PlanTold(p *pb.RidePlan, zone string) []GroupTold {
	s := newSheet(&pb.Roster{Plan: p, Zone: zone})
	var rows []GroupTold
	for _, g := range p.GetGroups() {
		row := GroupTold{Group: g.GetGroup(), Title: phrase.FirstOf(g.GetTitle(), g.GetGroup()), Pace: phrase.Number(g.GetPaceKmh(), 1) + " km/h",
			Leaves: s.watch.Clock(g.GetStartAt()), Home: s.watch.Clock(g.GetHomeAt()), AgainstDark: againstDark(g), Lights: lightWords(g),
			RestsOn: restsOn(g.GetPastTimes(), s.watch), Hardest: hardest(g), Ice: ice(g), InDark: g.GetDarkMin() > 0}
		row.StartWord, row.Start = startWords(p, g, s.watch)
		what, _, _ := phrase.StartInLight(p, g)
		row.CutsFromLight = what == phrase.StartTooLate
		if g.GetRidingMin() > 0 {
			row.Ride = phrase.Km(g.GetDistanceM()) + " in " + phrase.Span(g.GetRidingMin()) + " of riding"
		}
		for _, limit := range p.GetStartLimits() {
			if limit.GetGroup() == g.GetGroup() {
				row.Worse, row.Riders = limitWords(limit, s.watch), int(limit.GetRiders())
			}
		}
		for _, stop := range g.GetPoints() {
			if stop.GetLeavesAt().IsValid() {
				row.Stops = append(row.Stops, strings.Join([]string{s.watch.Clock(stop.GetAt()), "to", s.watch.Clock(stop.GetLeavesAt()),
					phrase.FirstOf(stop.GetWhat(), "stop") + ", at", phrase.Km(stop.GetDistanceM())}, " "))
			}
		}
		rows = append(rows, row)
	}
	return rows
}
