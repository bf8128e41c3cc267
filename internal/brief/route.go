package brief

import (
	"fmt"
	"strings"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (t *teller) route() *section {
	s := &section{id: "route", title: "Route and times"}
	ride := t.r.GetRide()
	switch {
	case t.isCalledOff():
		s.alert("%s", t.calledOff())
	case len(t.groups) == 0:
		s.alert("No group runs.")
	}
	s.lines = append(s.lines, t.length(), t.meeting())
	for _, g := range t.groups {
		s.lines = append(s.lines, t.groupTimes(g))
	}
	if words := t.byPaceAlone(); words != "" {
		s.lines = append(s.lines, words)
	}
	for _, idle := range t.r.GetPlacement().GetIdle() {
		s.say("%s does not run. %s", phrase.FirstOf(idle.GetTitle(), idle.GetGroup(), "One group"), phrase.Sentence(idle.GetWhy()))
	}
	for _, stop := range ride.GetStops() {
		s.lines = append(s.lines, t.stop(stop))
	}
	s.lines = append(s.lines, phrase.FirstOf(phrase.Between("The ride leader is ", t.leader(), "."), "No ride leader is named."))
	if ride.GetLeaderPhone() == "" {
		s.say("No number of the leader is on this sheet: take it down before we start.")
	}
	return s
}

// length tells what is ridden and how far.
func (t *teller) length() string {
	ride, route := t.r.GetRide(), t.r.GetRide().GetRoute()
	title := phrase.FirstOf(ride.GetTitle(), route.GetTitle(), "this ride")
	if route == nil || route.GetDistanceM() <= 0 {
		return fmt.Sprintf("Today: %s. The route has not been measured.", phrase.Bare(title))
	}
	climb := " with " + phrase.Number(route.GetAscentM(), 0) + " m of climbing"
	if !route.GetHasElevation() {
		climb = "; the climbing is not known"
	}
	shape := map[pb.RouteSummary_Shape]string{
		pb.RouteSummary_LOOP:           " It is a loop.",
		pb.RouteSummary_OUT_AND_BACK:   " It goes out and comes back the same way.",
		pb.RouteSummary_POINT_TO_POINT: " It ends elsewhere than it begins.",
	}[route.GetShape()]
	return fmt.Sprintf("Today: %s. %s%s.%s", phrase.Bare(title), phrase.Km(route.GetDistanceM()), climb, shape)
}

func (t *teller) meeting() string {
	ride := t.r.GetRide()
	when := "at a time not known"
	if at := ride.GetStartAt(); at.IsValid() {
		when = t.watch.Local(at.AsTime()).Format("at 15:04 on Monday 2 January 2006")
	} else if at, err := time.Parse("2006-01-02T15:04", ride.GetStartLocal()); err == nil {
		when = at.Format("at 15:04 on Monday 2 January 2006")
	}
	return fmt.Sprintf("We meet at %s. The first group leaves %s.", phrase.FirstOf(phrase.Bare(ride.GetMeetingPoint()), "a place not given"), when)
}

func (t *teller) groupTimes(g group) string {
	if !g.plan.GetStartAt().IsValid() || !g.plan.GetHomeAt().IsValid() {
		return g.title + ": its times have not been reckoned."
	}
	said := fmt.Sprintf("%s: %s km/h on the flat. Leaves at %s, home about %s.",
		g.title, phrase.Number(g.plan.GetPaceKmh(), 1), t.clock(g.plan.GetStartAt()), t.clock(g.plan.GetHomeAt()))
	if past := g.plan.GetPastTimes(); past.GetUsed() {
		said += " That rests on " + past.GetWords() + "."
	}
	return said
}

// byPaceAlone says of which groups too few rides are recorded for their times to rest on. Where a leader chose to go by
// pace alone, that is not said.
func (t *teller) byPaceAlone() string {
	var titles []string
	for _, g := range t.groups {
		past := g.plan.GetPastTimes()
		if past != nil && !past.GetUsed() && len(past.GetRestsOn()) < int(past.GetRidesNeeded()) {
			titles = append(titles, g.title)
		}
	}
	if len(titles) == 0 {
		return ""
	}
	return "Reckoned by pace alone, for not enough rides are recorded: " + strings.Join(titles, ", ") + "."
}

// stop tells of a planned stop, and when each group comes there.
func (t *teller) stop(stop *pb.Stop) string {
	var arrivals []string
	for _, g := range t.groups {
		if p := phrase.StopAt(g.plan, stop); p != nil {
			arrivals = append(arrivals, g.title+" about "+t.clock(p.GetAt()))
		}
	}
	line := fmt.Sprintf("Stop at %s: %s, %d min.", phrase.Km(stop.GetAtDistanceM()), phrase.Bare(stop.GetTitle()), stop.GetMinutes())
	if len(arrivals) > 0 {
		line += " " + strings.Join(arrivals, ", ") + "."
	}
	return line
}
