package render

import (
	"strconv"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// group is one group: times, light, people, and the riding order as the road sees it. Details are whose pace it is
// not, which the brief tells as well.
func (t *page) group(s *sheet, g *pb.RosterGroup, details bool) {
	t.heading(groupTitle(g) + ": " + headCount(g))
	t.times(s.GetPlan(), s.groupPlan(g), s.watch)
	if words := limitWords(g.GetStartLimit(), s.watch); words != "" {
		t.para(2, "If it starts "+words+".")
	}
	t.para(2, "Leader "+phrase.FirstOf(s.person(g.GetLeader()), "nobody named")+
		". Back marker "+phrase.FirstOf(s.person(g.GetBackMarker()), "nobody named")+".")
	t.gap()
	t.order(s, g)
	for _, note := range g.GetNotes() {
		t.point(note)
	}
	for _, note := range s.wishNotes(g) {
		t.point(note)
	}
	if !details {
		return
	}
	juniors, others := s.abovePace(g)
	for _, words := range juniors {
		t.wrapped("! ", "  ", words, alarm)
	}
	for _, words := range others {
		t.point(words)
	}
}

// times are a group's times and light in sentences.
func (t *page) times(p *pb.RidePlan, g *pb.GroupPlan, w phrase.Watch) {
	if !g.GetStartAt().IsValid() || !g.GetHomeAt().IsValid() {
		t.para(2, "Times not known.")
		return
	}
	t.para(2, phrase.Number(g.GetPaceKmh(), 1)+" km/h. "+w.Clock(g.GetStartAt())+" to "+w.Clock(g.GetHomeAt())+
		"; "+lightTale(p, g, w)+"."+startSentence(p, g, w))
}

// order draws the rows of a group, front on top, left and right as seen from behind.
func (t *page) order(s *sheet, g *pb.RosterGroup) {
	const indent, numbers, between = 2, 4, 2
	col := (t.width - indent - numbers - between) / 2
	lead := strings.Repeat(" ", indent+numbers)
	t.raw(lead+pad("left", col)+strings.Repeat(" ", between)+"right", dim)
	backFrom, words := backRow(g)
	for i, row := range g.GetRows() {
		if i == backFrom {
			for _, line := range wrap(words+":", t.width-indent-numbers) {
				t.raw(lead+line, dim)
			}
		}
		left, right := t.seats(s, row, col)
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

// seats are the riders of a row in their columns. The standings stand side by side, however long the names are.
func (t *page) seats(s *sheet, row *pb.Row, col int) (left, right []string) {
	left, right = names(s, row.GetLeft(), col), names(s, row.GetRight(), col)
	for len(left) < len(right) && row.GetLeft() != nil {
		left = append(left, "")
	}
	for len(right) < len(left) && row.GetRight() != nil {
		right = append(right, "")
	}
	return append(left, t.standing(row.GetLeft(), col)...), append(right, t.standing(row.GetRight(), col)...)
}

// names are a rider's name and roles in a column.
func names(s *sheet, r *pb.Rider, col int) []string {
	if r == nil {
		return nil
	}
	name := s.rider(r)
	if roles := roles(r); roles != "" {
		name += " (" + roles + ")"
	}
	return wrap(name, col)
}

// standing is a rider's standing with its reasons in short, and how far the pace is off.
func (t *page) standing(r *pb.Rider, col int) []string {
	if r == nil {
		return nil
	}
	st := plain
	switch r.GetStanding() {
	case pb.Standing_CLEAR:
		st = dim
	case pb.Standing_BACK, pb.Standing_HELD:
		st = alarm
	}
	var lines []string
	words := "[" + standingReasons(r.GetStanding(), r.GetFindings()) + "]"
	if sentBack(r) {
		words = "[sent to the " + strings.TrimPrefix(words, "[")
	}
	if more := joined(paceOff(r), wished(r)); more != "" {
		words += " " + more
	}
	for _, line := range wrap(words, col-2) {
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
