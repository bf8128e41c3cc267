package render

import (
	"cmp"
	"slices"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// parts are the parts of a group's sheet, in order. What is looked at as one stays whole.
func (p *paper) parts(t *setter, g *pb.RosterGroup, accident bool) []part {
	front := append(append(p.head(t, g), p.times(t, g)...), p.stops(t, g)...)
	var hurt block
	if accident {
		hurt = p.accident(t)
	}
	return []part{
		{front, true}, {p.order(t, g), true}, {p.notes(t, g), false}, {p.spoken(t, g), true}, {hurt, true},
		{p.section(t, "conditions"), false}, {p.section(t, "hazards"), false}, {p.watched(t, g), false},
		{p.section(t, "cautions"), false}, {p.foot(t), false},
	}
}

// head tells whose sheet it is, where to meet, and whom to ring, with the code of the roster's page beside it.
func (p *paper) head(t *setter, g *pb.RosterGroup) block {
	var b block
	if off := p.calledOff(); off != "" {
		b = append(b, t.text("B", 1.5, 0, off)...)
		b = append(b, t.space(0.3)...)
	}
	for _, c := range p.GetSince() {
		b = append(b, t.marked("!", "B", 1, t.size*point*0.9, "Changed since this issue: "+c)...)
	}
	if p.draft() {
		b = append(b, t.text("B", 1, 0, p.issue())...)
	}
	beside := t.beside(p.side())
	top := beside.text("", 1, 0, p.club())
	top = append(top, beside.text("B", 1.35, 0, p.title())...)
	top = append(top, beside.text("B", 1.8, 0, groupTitle(g))...)
	top = append(top, beside.text("B", 1, 0, phrase.FirstOf(p.watch.Date(p.start()), "On a day not known"))...)
	top = append(top, beside.text("", 1, 0, "Meet at "+phrase.FirstOf(p.GetRide().GetMeetingPoint(), "a place not given"))...)
	b = append(b, p.withCode(t, top)...)
	leader := phrase.FirstOf(p.GetLeaderName(), p.person(p.GetRide().GetLeader()), "nobody named")
	b = append(b, t.text("", 1, 0, "Ride leader "+p.name(leader, p.GetRide().GetLeader()))...)
	return append(b, t.text("B", 1.35, 0, phrase.FirstOf(phrase.Between("Telephone ", p.GetRide().GetLeaderPhone(), ""), "No telephone number: take it down"))...)
}

// beside is the setter for type beside a square.
func (t *setter) beside(side float64) *setter {
	narrow := *t
	if side > 0 {
		narrow.width = t.width - side - 3
	}
	return &narrow
}

// side is how large a code is printed, mm: each of its squares 0.72 mm, wide enough to be read off a creased sheet by a
// telephone (common practice, no source).
func (p *paper) side() float64 { return 0.72 * float64(len(p.code)) }

// withCode puts the code of the roster's page to the right of lines, all of it one piece.
func (p *paper) withCode(t *setter, lines block) block {
	if p.code == nil {
		return lines
	}
	const room = 1.5
	side := p.side()
	return block{piece{height: max(lines.height(), side+2*room), draw: func(x, y float64) {
		p.drawCode(x+t.width-side, y+room, side)
		for _, one := range lines {
			one.draw(x, y)
			y += one.height
		}
	}}}
}

// name is a name with the rider's id behind it where letters of it cannot be printed.
func (p *paper) name(name, member string) string {
	if id := last(member); id != "" && id != name && strings.Contains(p.letters.print(name), unprinted) {
		return name + " (" + id + ")"
	}
	return name
}

// times tells who leads, when the group leaves and is home, and in what light.
func (p *paper) times(t *setter, g *pb.RosterGroup) block {
	plan, w := p.groupPlan(g), p.watch
	var b block
	fact := func(style string, scale float64, name, words string) {
		if words != "" {
			b = append(b, t.fact(style, scale, name, words)...)
		}
	}
	who := func(member string) string {
		return p.name(phrase.FirstOf(p.person(member), "nobody named"), member)
	}
	b = append(b, t.heading(headCount(g))...)
	fact("B", 1, "Leads", who(g.GetLeader()))
	fact("B", 1, "Marks the back", who(g.GetBackMarker()))
	fact("B", 1.3, "Leaves", w.Clock(plan.GetStartAt()))
	fact("B", 1.3, "Home about", w.Clock(plan.GetHomeAt()))
	fact("", 1, "Pace", phrase.Number(plan.GetPaceKmh(), 1)+" km/h on the flat")
	if m := plan.GetDistanceM(); m > 0 {
		fact("", 1, "Distance", phrase.Km(m))
	}
	if phrase.FromDark(p.GetPlan(), plan) {
		fact("", 1, "Dark until", w.Clock(p.GetPlan().GetDarkEndsAt()))
		if at := p.GetPlan().GetSunriseAt(); at.IsValid() {
			fact("", 1, "Sunrise", w.Clock(at))
		}
	}
	if at := p.GetPlan().GetSunsetAt(); at.IsValid() {
		fact("", 1, "Sunset", w.Clock(at))
	}
	if at := p.GetPlan().GetDarkBeginsAt(); at.IsValid() {
		fact("", 1, "Dark from", w.Clock(at))
	}
	light, lights := lightParts(p.GetPlan(), plan, w)
	fact("", 1, "Light", light)
	fact("", 1, "Lights", strings.TrimPrefix(lights, "lights "))
	if name, words := startWords(p.GetPlan(), plan, w); name != "" {
		fact("", 1, name, words)
	}
	fact("", 1, "If it starts late", limitWords(g.GetStartLimit(), w))
	return b
}

// fact is a line with its name in front.
func (t *setter) fact(style string, scale float64, name, words string) block {
	t.face("", 0.85)
	indent := t.width * 0.3
	b := t.marked("", style, scale, indent, words)
	draw := b[0].draw
	first := t.size * scale * point * leading
	b[0].draw = func(x, y float64) {
		t.face("", 0.85)
		t.pdf.Text(x, y+first*0.8, name)
		draw(x, y)
	}
	return b
}

// stops tells the planned stops with the group's times.
func (p *paper) stops(t *setter, g *pb.RosterGroup) block {
	var lines []string
	stops := slices.Clone(p.GetRide().GetStops())
	slices.SortStableFunc(stops, func(a, b *pb.Stop) int { return cmp.Compare(a.GetAtDistanceM(), b.GetAtDistanceM()) })
	for _, stop := range stops {
		words := phrase.Km(stop.GetAtDistanceM()) + ": " + phrase.FirstOf(stop.GetTitle(), "a stop")
		if at := phrase.StopAt(p.groupPlan(g), stop); at != nil {
			words += ", " + p.watch.Clock(at.GetAt())
			if at.GetLeavesAt().IsValid() {
				words += " to " + p.watch.Clock(at.GetLeavesAt())
			}
		}
		lines = append(lines, words)
	}
	if len(lines) == 0 {
		return nil
	}
	return append(t.heading("Stops"), t.points(lines)...)
}

// notes tell what was decided about the order, and whom to ask before the start.
func (p *paper) notes(t *setter, g *pb.RosterGroup) block {
	juniors, others := p.abovePace(g)
	var b block
	for _, words := range juniors {
		b = append(b, t.marked("!", "B", 1, t.size*point*0.9, words)...)
	}
	return append(b, t.points(append(append(others, p.wishNotes(g)...), g.GetNotes()...))...)
}

// spoken is what the group's leader says aloud.
func (p *paper) spoken(t *setter, g *pb.RosterGroup) block {
	lines := p.spokenOf(g)
	if len(lines) == 0 {
		return nil
	}
	b := t.heading(spokenTitle)
	for i, line := range lines {
		b = append(b, t.marked(phrase.Number(float64(i+1), 0), "", 1, t.size*point*1.1, line)...)
	}
	return b
}

// section is a part of the brief, what is urgent in it first and strong.
func (p *paper) section(t *setter, id string) block {
	for _, s := range p.GetBrief().GetSections() {
		if s.GetId() != id || len(s.GetLines()) == 0 {
			continue
		}
		b, lines := t.heading(phrase.FirstOf(s.GetTitle(), id)), s.GetLines()
		if s.GetUrgent() {
			b, lines = append(b, t.marked("!", "B", 1, t.size*point*0.9, lines[0])...), lines[1:]
		}
		return append(b, t.points(lines)...)
	}
	return nil
}

// accident tells what to do where somebody is hurt: how the brief's part begins. What follows there is said at the start, too.
func (p *paper) accident(t *setter) block {
	const lines = 5 // make safe, do not move, ring, say where, tell the leader
	for _, s := range p.GetBrief().GetSections() {
		if s.GetId() == "trouble" && len(s.GetLines()) > 0 {
			return append(t.heading(s.GetTitle()), t.points(s.GetLines()[:min(lines, len(s.GetLines()))])...)
		}
	}
	return nil
}

// watched tells what is not met on the group's bikes, as far as the roster tells it to whoever asked for it, and who does not
// start at all. What several have in common is told once.
func (p *paper) watched(t *setter, g *pb.RosterGroup) block {
	var order []string
	who, shape := map[string][]string{}, map[string]string{}
	for _, r := range seated(g) {
		if fs := worstFirst(r.GetFindings()); len(fs) > 0 {
			words := todo(fs)
			if who[words] == nil {
				order, shape[words] = append(order, words), phrase.StandingShape(r.GetStanding())
			}
			who[words] = append(who[words], p.name(p.rider(r), r.GetMember())+bikeAfter(r.GetBikeTitle()))
		}
	}
	var lines []string
	for _, words := range order {
		lines = append(lines, shape[words]+" "+strings.Join(who[words], "; ")+". "+words)
	}
	for _, u := range p.GetPlacement().GetUnplaced() {
		if fs := worstFirst(u.GetFindings()); len(fs) > 0 && fs[0].GetStanding() == pb.Standing_HELD {
			lines = append(lines, phrase.StandingShape(pb.Standing_HELD)+" "+p.name(p.unplaced(u), u.GetMember())+bikeAfter(u.GetBikeTitle())+", is held. "+todo(fs))
		}
	}
	if len(lines) == 0 {
		return nil
	}
	return append(t.heading("Bikes to watch"), t.points(lines)...)
}

// todo are findings with their remedies: "Guards: rear guard needed, none declared. Fit one."
func todo(fs []*pb.Finding) string {
	var parts []string
	for _, f := range fs {
		words := phrase.Sentence(about(f) + ": " + phrase.FirstOf(f.GetNeeded(), "what the rule says") + " needed, " + declared(f))
		if f.GetRemedy() != "" {
			words += " " + phrase.Sentence(f.GetRemedy())
		}
		parts = append(parts, words)
	}
	return strings.Join(parts, " ")
}

// foot tells which issue it is, and what could not be printed.
func (p *paper) foot(t *setter) block {
	b := t.space(0.5)
	words := p.issue() + "."
	if proof := phrase.Proof(p.GetPlacement()); proof != "" {
		words += " " + proof
	}
	if d := p.GetDigest(); d != "" {
		words += " Digest " + short(d) + "."
	}
	b = append(b, t.text("", 0.85, 0, words)...)
	if lost := p.letters.words(); lost != "" {
		b = append(b, t.text("B", 0.85, 0, lost)...)
	}
	for i := range b {
		b[i].stays = i+1 < len(b)
	}
	return b
}
