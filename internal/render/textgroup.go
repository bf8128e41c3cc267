package render

import (
	"strconv"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// group is one group: times, light, people, and the riding order as the road sees it. Details are the findings in full,
// which the brief tells as well.
func (t *page) group(s *sheet, g *pb.RosterGroup, details bool) {
	t.heading(groupTitle(g) + ": " + headCount(g))
	t.times(s.groupPlan(g), s.watch)
	t.para(2, "Leader "+firstOf(s.person(g.GetLeader()), "nobody named")+
		". Back marker "+firstOf(s.person(g.GetBackMarker()), "nobody named")+".")
	t.gap()
	t.order(s, g)
	for _, note := range g.GetNotes() {
		t.point(note)
	}
	if !details {
		return
	}
	for _, row := range g.GetRows() {
		for _, r := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
			if len(unmet(r.GetFindings())) > 0 {
				t.point(s.rider(r) + bikeAfter(r.GetBikeTitle()))
				t.findings(4, r.GetFindings())
			}
		}
	}
}

func bikeAfter(title string) string {
	if title == "" {
		return ""
	}
	return ", " + title
}

// times are a group's times and light in sentences.
func (t *page) times(p *pb.GroupPlan, w watch) {
	if !p.GetStartAt().IsValid() || !p.GetHomeAt().IsValid() {
		t.para(2, "Times not known.")
		return
	}
	words := number(p.GetPaceKmh(), 1) + " km/h. " + w.clock(p.GetStartAt()) + " to " + w.clock(p.GetHomeAt())
	if against := againstDark(p); against != "" {
		words += ", home " + against
	}
	words += "; " + lightWords(p) + "."
	if latest := p.GetLatestStartAt(); latest.IsValid() {
		words += " Latest start to be home with the margin of light: " + w.clock(latest) + "."
	}
	t.para(2, words)
}

// order draws the rows of a group, front on top, left and right as seen from behind.
func (t *page) order(s *sheet, g *pb.RosterGroup) {
	const indent, numbers, between = 2, 4, 2
	col := (t.width - indent - numbers - between) / 2
	lead := strings.Repeat(" ", indent+numbers)
	t.raw(lead+pad("left", col)+strings.Repeat(" ", between)+"right", dim)
	behind := false
	for i, row := range g.GetRows() {
		if !behind && hasBack(row) {
			behind = true
			t.raw(lead+"--- at the back "+strings.Repeat("-", max(0, t.width-indent-numbers-16)), dim)
		}
		left, right := t.seat(s, row.GetLeft(), col), t.seat(s, row.GetRight(), col)
		for n := 0; n < max(len(left), len(right)); n++ {
			number := ""
			if n == 0 {
				number = strconv.Itoa(i + 1)
			}
			line := strings.Repeat(" ", indent) + pad(number, numbers) + pad(at(left, n), col) + strings.Repeat(" ", between) + at(right, n)
			t.b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
}

func hasBack(row *pb.Row) bool {
	return row.GetLeft().GetStanding() == pb.Standing_BACK || row.GetRight().GetStanding() == pb.Standing_BACK
}

// seat is a rider in a column: the name and roles, then the standing with its reasons in short.
func (t *page) seat(s *sheet, r *pb.Rider, col int) []string {
	if r == nil {
		return nil
	}
	name := s.rider(r)
	if roles := tags(r); roles != "" {
		name += " (" + roles + ")"
	}
	standing := standingWord(r.GetStanding())
	if why := reasons(r.GetFindings()); why != "" {
		standing += ": " + why
	}
	lines := wrap(name, col)
	st := plain
	switch r.GetStanding() {
	case pb.Standing_CLEAR:
		st = dim
	case pb.Standing_BACK, pb.Standing_HELD:
		st = alarm
	}
	for _, line := range wrap("["+standing+"]", col-2) {
		lines = append(lines, "  "+t.paint(line, st))
	}
	return lines
}

func at(lines []string, n int) string {
	if n < len(lines) {
		return lines[n]
	}
	return ""
}
