package render

import (
	"fmt"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// mailWidth is the most columns of an e-mail's text: within the 78 that RFC 5322, 2.1.1 asks for.
const mailWidth = 72

// Mail is the subject and the text of a letter to a member: about an issue of the roster, or about a ride without one, of
// which r then has ride, club and zone; notice is the text of the notice that it carries. Nobody else's bike is told of.
func Mail(letter *pb.Letter, r *pb.Roster, name, notice string) (subject, text string) {
	s, t := newSheet(r), newPage(TextOptions{Width: mailWidth})
	day := s.watch.Date(s.start())
	title := phrase.FirstOf(s.GetRide().GetTitle(), "The ride")
	t.line(Clean(name) + ",")
	t.gap()
	switch letter.GetKind() {
	case pb.Letter_CALLED_OFF:
		subject = title + " is called off"
		t.line(fmt.Sprintf("%s on %s is called off: %s", title, day, phrase.Sentence(s.GetRide().GetCallOffReason())))
		t.gap()
		t.line("Nobody waits for you at the start.")
	case pb.Letter_PLACE_CAME_FREE:
		subject = "You have a place on " + title
		t.line(fmt.Sprintf("A place on %s, %s, came free, and you were the next: you have it now.", title, s.watch.Stamp(s.start())))
		t.gap()
		t.line("If you cannot come, withdraw, so that the next can:")
		t.raw("  gritward ride withdraw "+last(s.GetRide().GetName()), plain)
	case pb.Letter_OVERDUE:
		subject = "Overdue on " + title
		for line := range strings.Lines(notice) {
			t.line(Clean(line))
		}
	default:
		subject = t.placed(s, letter.GetMember(), title)
	}
	t.gap()
	if url := r.GetPageUrl(); url != "" {
		t.raw(url, plain)
	}
	t.line("You get this because you gave " + s.club() + " your e-mail address. To get none:")
	t.raw("  gritward member change "+last(letter.GetMember())+" --email \"\"", plain)
	var b strings.Builder
	_ = t.writeTo(&b) // a builder never fails
	if letter.GetKind() != pb.Letter_OVERDUE {
		subject += ", " + day
	}
	return oneLine(subject), b.String()
}

// oneLine is a text without what breaks a line.
func oneLine(s string) string { return strings.Join(strings.Fields(Clean(s)), " ") }

// placed tells a member's place in an issue, and gives the subject.
func (t *page) placed(s *sheet, member, title string) (subject string) {
	t.line(fmt.Sprintf("Issue %d of the roster of %s, %s.", s.GetNumber(), title, s.watch.Stamp(s.start())))
	t.gap()
	defer t.mailFoot(s)
	for _, g := range s.GetPlacement().GetGroups() {
		for i, row := range g.GetRows() {
			for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
				if rider.GetMember() == member && member != "" {
					t.mailRider(s, g, rider, i+1)
					return title + ": you ride in " + groupTitle(g)
				}
			}
		}
	}
	for _, u := range s.GetPlacement().GetUnplaced() {
		if u.GetMember() != member {
			continue
		}
		if u.GetWaiting() {
			t.line("All places are taken. You wait for one to come free, and are told when it does.")
			return title + ": you wait for a place"
		}
		t.line("You have no place in a group.")
		for _, why := range u.GetWhy() {
			t.point(why)
		}
		t.mailFindings(u.GetBikeTitle(), u.GetFindings())
		return title + ": you have no place in a group"
	}
	t.line("You are not in this issue.")
	return title + ": you are not in this issue"
}

// mailRider tells a rider's group, times and place, and what to fix.
func (t *page) mailRider(s *sheet, g *pb.RosterGroup, rider *pb.Rider, row int) {
	plan := s.groupPlan(g)
	t.line(fmt.Sprintf("You ride in %s, %s km/h, row %d of %d%s.", groupTitle(g), phrase.Number(plan.GetPaceKmh(), 1), row, len(g.GetRows()), mailRole(rider)))
	if place := s.GetRide().GetMeetingPoint(); place != "" {
		t.line("Meet at " + phrase.Sentence(place))
	}
	t.line(fmt.Sprintf("Start %s, home about %s.", s.watch.Clock(plan.GetStartAt()), s.watch.Clock(plan.GetHomeAt())))
	if lit := plan.GetLitMin(); lit > 0 {
		t.line("Lights are needed for " + phrase.AtLeast(lit) + ".")
	}
	if leader := s.person(g.GetLeader()); leader != "" && !rider.GetLeads() {
		t.line("Your group is led by " + leader + ".")
	}
	if leader := s.GetLeaderName(); leader != "" {
		if phone := s.GetRide().GetLeaderPhone(); phone != "" {
			leader += ", telephone " + phone
		}
		t.line("Ride leader: " + leader + ".")
	}
	for _, move := range s.GetPlacement().GetMoved() {
		if move.GetMember() == rider.GetMember() && move.GetWords() != "" {
			t.line("Since the issue before: " + phrase.Sentence(move.GetWords()))
		}
	}
	if title := rider.GetWishedTitle(); title != "" {
		t.line("You wished for " + title + ": " + phrase.Stopped(phrase.FirstOf(rider.GetWishedWhy(), "it could not be")))
	}
	t.mailFindings(rider.GetBikeTitle(), rider.GetFindings())
}

// mailRole is where a rider rides, after the row.
func mailRole(rider *pb.Rider) string {
	switch {
	case rider.GetLeads():
		return "; you lead the group"
	case rider.GetMarksBack():
		return "; you mark the back"
	case sentBack(rider):
		return "; at the back, and without a turn at the front"
	}
	return ""
}

// mailFindings tells what to put right on the member's own bike.
func (t *page) mailFindings(bike string, findings []*pb.Finding) {
	if len(findings) == 0 {
		return
	}
	t.gap()
	t.line(phrase.FirstOf(bike, "Your bike") + ", to put right before the ride:")
	for _, f := range worstFirst(findings) {
		t.point(fmt.Sprintf("%s (%s). %s", about(f), phrase.Standing(f.GetStanding()),
			phrase.Sentence(phrase.FirstOf(f.GetRemedy(), "Needed: "+f.GetNeeded()))))
	}
}

// mailFoot tells what changed, and what comes first on the road.
func (t *page) mailFoot(s *sheet) {
	if len(s.GetChanges()) > 0 {
		t.gap()
		t.line("Changed since the issue before:")
		for _, change := range s.GetChanges() {
			t.point(change)
		}
	}
	t.gap()
	t.line("The safety brief is attached: read it before you set off. Local road law and official weather warnings come first; on the " +
		"road the ride leader decides.")
}
