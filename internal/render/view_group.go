package render

import (
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (s *sheet) overview(g *pb.RosterGroup, id string) overview {
	row := s.planRow(s.groupPlan(g))
	row.ID, row.Title, row.Riders = id, groupTitle(g), headCount(g)
	return row
}

// PlanRow is a group's line in a table: its title, pace, when it leaves and is home, and its light.
type PlanRow = overview

// PlanRows are the groups of a plan that is no roster yet, with times told in zone, an IANA name.
func PlanRows(plan *pb.RidePlan, zone string) (rows []PlanRow) {
	s := newSheet(&pb.Roster{Plan: plan, Zone: zone})
	for _, p := range s.GetPlan().GetGroups() {
		rows = append(rows, s.planRow(p))
	}
	return rows
}

func (s *sheet) planRow(p *pb.GroupPlan) overview {
	light, lights := lightParts(s.GetPlan(), p, s.watch)
	if p.GetLitMin() > 0 && light != "" {
		light += "; "
	}
	if p.GetLitMin() > 0 {
		light += lights
	}
	return overview{
		Title: planTitle(p), Pace: phrase.Number(p.GetPaceKmh(), 1), Start: s.watch.Clock(p.GetStartAt()),
		Home: s.watch.Clock(p.GetHomeAt()), Light: phrase.FirstOf(light, "not known"),
	}
}

func (s *sheet) groupView(g *pb.RosterGroup, id string) groupView {
	p := s.groupPlan(g)
	v := groupView{
		ID: id, Title: groupTitle(g), Count: headCount(g), Running: s.running(), Leader: s.leaderOf(g), Facts: s.facts(g, p), Notes: g.GetNotes(), Spoken: s.spokenOf(g), Single: true, plan: p,
	}
	_, lights := lightParts(s.GetPlan(), p, s.watch)
	v.Lights = lightsWords(lights)
	juniors, others := s.abovePace(g)
	v.Alerts, v.Notes = juniors, append(append(others, s.wishNotes(g)...), v.Notes...)
	backFrom, backWords := backRow(g)
	for i, row := range g.GetRows() {
		rv := rowView{Number: i + 1}
		if i == backFrom {
			rv.BackFrom = backWords
		}
		for _, side := range []struct {
			rider *pb.Rider
			to    **riderView
		}{{row.GetLeft(), &rv.Left}, {row.GetRight(), &rv.Right}} {
			if side.rider == nil {
				continue
			}
			r := s.riderView(side.rider)
			*side.to = &r
			if len(r.Findings) > 0 {
				v.Findings = append(v.Findings, r)
			}
		}
		v.Single = v.Single && rv.Right == nil
		v.Rows = append(v.Rows, rv)
	}
	return v
}

// facts are what stands at the head of a group's sheet.
func (s *sheet) facts(g *pb.RosterGroup, p *pb.GroupPlan) []pair {
	light, lights := lightParts(s.GetPlan(), p, s.watch)
	facts := []pair{
		{"Leader", phrase.FirstOf(s.leaderOf(g), "nobody named")},
		{"Back marker", phrase.FirstOf(s.person(g.GetBackMarker()), s.withRole(g, (*pb.Rider).GetMarksBack), "nobody named")},
		{"Leaves", s.watch.Clock(p.GetStartAt())},
		{"Home", s.watch.Clock(p.GetHomeAt())},
		{"Pace", phrase.Number(p.GetPaceKmh(), 1) + " km/h on the flat"},
		{"Light", phrase.FirstOf(light, "not known")},
		{"Lights", lightsWords(lights)},
	}
	if name, words := startWords(s.GetPlan(), p, s.watch); name != "" {
		facts = append(facts, pair{name, words})
	}
	if words := limitWords(g.GetStartLimit(), s.watch); words != "" {
		facts = append(facts, pair{"If it starts late", words})
	}
	return facts
}

// lightsWords tells without "lights", which stands beside it, what lights a group needs.
func lightsWords(lights string) string { return strings.TrimPrefix(lights, "lights ") }

// leaderOf is who leads a group; empty for nobody.
func (s *sheet) leaderOf(g *pb.RosterGroup) string {
	return phrase.FirstOf(s.person(g.GetLeader()), s.withRole(g, (*pb.Rider).GetLeads))
}

// withRole is the name of the rider of a group who has a role; empty for nobody.
func (s *sheet) withRole(g *pb.RosterGroup, has func(*pb.Rider) bool) string {
	for _, r := range seated(g) {
		if has(r) {
			return s.rider(r)
		}
	}
	return ""
}
