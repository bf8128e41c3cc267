package render

import (
	"io"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// PlanText writes a ride's plan as plain text: the light, and each group's times, stops and limits. Times are told in
// zone, an IANA name. opt.Part is not used. The error is the writer's.
func PlanText(w io.Writer, plan *pb.RidePlan, zone string, opt TextOptions) error {
	s := newSheet(&pb.Roster{Plan: plan, Zone: zone})
	t := newPage(opt)
	day := "Plan"
	if date := s.watch.Date(s.start()); date != "" {
		day += " for " + date + " (" + s.watch.Zone() + ")"
	}
	t.bold(day)
	for _, words := range s.GetPlan().GetCallOff() {
		t.warn("! Call-off limit passed: " + words)
	}
	t.light(s.GetPlan(), s.watch)
	for _, g := range s.GetPlan().GetGroups() {
		t.planOf(s.GetPlan(), g, s.watch)
	}
	t.weather(s.GetPlan())
	if len(s.GetPlan().GetNotes()) > 0 {
		t.heading("Taken for granted")
		for _, note := range s.GetPlan().GetNotes() {
			t.point(note)
		}
	}
	t.gap()
	if d := s.GetPlan().GetPolicyDigest(); d != "" {
		t.faint("Policy digest " + short(d))
	}
	t.faint("Sun times are for a flat horizon; hills, trees and cloud are not reckoned. Times are reckoned, not promised.")
	return t.writeTo(w)
}

// weather tells what the weather of a plan rests on, how old that is, and what it leaves unjudged.
func (t *page) weather(p *pb.RidePlan) {
	if p.GetWeatherBasis() == "" && len(p.GetNotJudged()) == 0 {
		return
	}
	t.gap()
	if words := p.GetWeatherBasis(); words != "" {
		t.para(0, words+".")
	}
	if p.ForecastAgeMin != nil {
		t.para(0, "It is "+phrase.Span(p.GetForecastAgeMin())+" old now. An official weather warning comes before any forecast.")
	}
	for _, what := range p.GetNotJudged() {
		t.point("Not judged for calling off: " + what + ".")
	}
}

func (t *page) planOf(p *pb.RidePlan, g *pb.GroupPlan, w phrase.Watch) {
	t.heading(planTitle(g))
	t.times(p, g, w)
	if g.GetRidingMin() > 0 {
		t.para(2, phrase.Km(g.GetDistanceM())+" in "+phrase.Span(g.GetRidingMin())+" of riding.")
	}
	if words := restsOn(g.GetPastTimes(), w); words != "" {
		t.para(2, words)
	}
	for _, stop := range g.GetPoints() {
		if stop.GetLeavesAt().IsValid() {
			t.para(2, w.Clock(stop.GetAt())+" to "+w.Clock(stop.GetLeavesAt())+"  "+phrase.FirstOf(stop.GetWhat(), "stop")+", at "+phrase.Km(stop.GetDistanceM()))
		}
	}
	for _, limit := range p.GetStartLimits() {
		if words := limitWords(limit, w); words != "" && limit.GetGroup() == g.GetGroup() {
			t.para(2, "As all who signed up stand now: if it starts "+words+".")
		}
	}
	if words := hardest(g); words != "" {
		t.para(2, "Hardest weather on the way: "+words+".")
	}
	if words := ice(g); words != "" {
		t.wrapped("! ", "  ", words, alarm)
	}
}

// restsOn tells on what a group's times rest, and what they would be otherwise; empty where nothing is recorded and
// nothing asked for.
func restsOn(past *pb.PastTimes, w phrase.Watch) string {
	enough := len(past.GetRestsOn()) >= int(past.GetRidesNeeded())
	switch {
	case past == nil:
		return ""
	case past.GetUsed():
		return "Rests on " + past.GetWords() + ". By pace alone: home " + w.Clock(past.GetByPaceHomeAt()) + "."
	case enough:
		return "By pace alone. Past rides would have it home " + w.Clock(past.GetRefinedHomeAt()) + " (" + past.GetWords() + ")."
	}
	return "By pace alone; " + past.GetWords() + "."
}

// ice is the caution of ice on a group's way; empty for none.
func ice(g *pb.GroupPlan) string {
	word := map[pb.CallOff_Ice]string{pb.CallOff_POSSIBLE: "Ice is possible", pb.CallOff_LIKELY: "Ice is likely"}[g.GetIce()]
	if word == "" || g.GetIceWhy() == "" {
		return word
	}
	return word + ": " + g.GetIceWhy()
}

// hardest is the worst weather a group meets, as far as known.
func hardest(g *pb.GroupPlan) string {
	words := ""
	add := func(known *float64, s string) {
		if known == nil {
			return
		}
		if words != "" {
			words += ", "
		}
		words += s
	}
	add(g.TemperatureMinC, phrase.Number(g.GetTemperatureMinC(), 0)+" °C")
	add(g.FeelsLikeMinC, "feels like "+phrase.Number(g.GetFeelsLikeMinC(), 0)+" °C")
	add(g.GustMaxKmh, "gusts "+phrase.Number(g.GetGustMaxKmh(), 0)+" km/h")
	add(g.VisibilityMinM, "visibility "+phrase.Sight(g.GetVisibilityMinM()))
	return words
}
