package render

import (
	"slices"
	"strconv"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// sheet is a clean roster with what is needed to tell it.
type sheet struct {
	*pb.Roster
	watch phrase.Watch
	names map[string]string // display names by member
}

func newSheet(r *pb.Roster) *sheet {
	s := &sheet{Roster: cleaned(r), names: map[string]string{}}
	s.watch = phrase.WatchOf(s.GetZone(), s.start())
	for _, g := range s.GetPlacement().GetGroups() {
		for _, row := range g.GetRows() {
			s.names[row.GetLeft().GetMember()] = row.GetLeft().GetDisplayName()
			s.names[row.GetRight().GetMember()] = row.GetRight().GetDisplayName()
		}
	}
	for _, u := range s.GetPlacement().GetUnplaced() {
		s.names[u.GetMember()] = u.GetDisplayName()
	}
	if leader := s.GetRide().GetLeader(); s.names[leader] == "" && s.GetLeaderName() != "" {
		s.names[leader] = s.GetLeaderName()
	}
	delete(s.names, "") // a rider without a member's name names nobody else
	return s
}

// start is the ride's start, or the first group's.
func (s *sheet) start() *timestamppb.Timestamp {
	if at := s.GetRide().GetStartAt(); at.IsValid() {
		return at
	}
	for _, g := range s.plan().GetGroups() {
		if g.GetStartAt().IsValid() {
			return g.GetStartAt()
		}
	}
	return nil
}

// person is a member's display name, or the last part of the member's name; empty for nobody.
func (s *sheet) person(member string) string { return phrase.FirstOf(s.names[member], last(member)) }

// rider is the name of a rider, never empty.
func (s *sheet) rider(r *pb.Rider) string {
	return phrase.FirstOf(r.GetDisplayName(), last(r.GetMember()), "no name")
}

// unplaced is the name of somebody without a place, never empty.
func (s *sheet) unplaced(u *pb.Unplaced) string {
	name := phrase.FirstOf(u.GetDisplayName(), last(u.GetMember()), "no name")
	if host := u.GetGuestOf(); host != "" {
		name += ", guest of " + host
	}
	return name
}

// title of the ride and of the club, never empty.
func (s *sheet) title() string {
	return phrase.FirstOf(s.GetRide().GetTitle(), s.GetRide().GetRoute().GetTitle(), "Ride without a title")
}

func (s *sheet) club() string { return phrase.FirstOf(s.GetClubTitle(), "Club without a title") }

// plan is the ride's plan with the groups that run, or all groups where none is placed yet.
func (s *sheet) plan() *pb.RidePlan {
	running := s.GetPlacement().GetGroups()
	if len(running) == 0 {
		return s.GetPlan()
	}
	out := lightOf(s.GetPlan())
	for _, g := range running {
		out.Groups = append(out.Groups, s.groupPlan(g))
	}
	return out
}

// groupPlan is the plan of a group that runs, with its title; nil where there is none.
func (s *sheet) groupPlan(g *pb.RosterGroup) *pb.GroupPlan {
	if g.GetPlan() != nil {
		return g.GetPlan()
	}
	for _, p := range s.GetPlan().GetGroups() {
		if p.GetGroup() == g.GetGroup() {
			return p
		}
	}
	return nil
}

func groupTitle(g *pb.RosterGroup) string {
	return phrase.FirstOf(g.GetTitle(), g.GetGroup(), "Group without a title")
}

func planTitle(p *pb.GroupPlan) string {
	return phrase.FirstOf(p.GetTitle(), p.GetGroup(), "Group without a title")
}

// headCount is the riders of a group, how many are sent to the back, and how many are guests.
func headCount(g *pb.RosterGroup) string {
	n, back, guests := 0, 0, 0
	for _, r := range seated(g) {
		n++
		if r.GetGuestOf() != "" {
			guests++
		}
		if sentBack(r) {
			back++
		}
	}
	words := phrase.Counted(n, "rider", "riders")
	if back > 0 {
		words += ", " + strconv.Itoa(back) + " sent to the back"
	}
	if guests > 0 {
		words += ", " + phrase.Counted(guests, "guest", "guests")
	}
	return words
}

// seated lists the riders of a group, front to back.
func seated(g *pb.RosterGroup) []*pb.Rider {
	var list []*pb.Rider
	for _, row := range g.GetRows() {
		for _, r := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
			if r != nil {
				list = append(list, r)
			}
		}
	}
	return list
}

// sentBack tells whether a rider is sent to the back: one who leads is not.
func sentBack(r *pb.Rider) bool { return r.GetStanding() == pb.Standing_BACK && !r.GetLeads() }

// backRow is the row in which the first rider sent to the back rides, from 0, and words to stand above it; -1 for none.
// Rows are two abreast, so others may ride beside.
func backRow(g *pb.RosterGroup) (row int, words string) {
	row = -1
	words = "Those sent to the back ride from here"
	for i, one := range g.GetRows() {
		for _, r := range []*pb.Rider{one.GetLeft(), one.GetRight()} {
			if sentBack(r) && row < 0 {
				row = i
			}
		}
		for _, r := range []*pb.Rider{one.GetLeft(), one.GetRight()} {
			if row >= 0 && r != nil && !sentBack(r) {
				return row, words + ", others beside them"
			}
		}
	}
	return row, words
}

// roles of a rider: "leads", "marks the back", "junior", "guest of Imke Vard".
func roles(r *pb.Rider) string {
	var out []string
	if r.GetLeads() {
		out = append(out, "leads")
	}
	if r.GetMarksBack() {
		out = append(out, "marks the back")
	}
	if r.GetJunior() {
		out = append(out, "junior")
	}
	if host := r.GetGuestOf(); host != "" {
		out = append(out, "guest of "+host)
	}
	return strings.Join(out, ", ")
}

// paceOff tells how far the group's pace lies outside the rider's own; empty where it does not.
func paceOff(r *pb.Rider) string {
	switch off := r.GetPaceOffKmh(); {
	case off > 0:
		return phrase.Number(off, 1) + " km/h above own pace"
	case off < 0:
		return phrase.Number(-off, 1) + " km/h below own pace"
	}
	return ""
}

// wished tells the group that a rider wished for, where it is another; empty where there is none.
func wished(r *pb.Rider) string {
	if title := r.GetWishedTitle(); title != "" {
		return "wished " + title
	}
	return ""
}

// wishNotes tell of riders of a group who wished for another, and why they are not there.
func (s *sheet) wishNotes(g *pb.RosterGroup) []string {
	var notes []string
	for _, r := range seated(g) {
		if title := r.GetWishedTitle(); title != "" {
			notes = append(notes, s.rider(r)+" wished for "+title+": ask before the start. Why not there: "+
				strings.TrimRight(phrase.FirstOf(r.GetWishedWhy(), "not told"), ".")+".")
		}
	}
	return notes
}

// joined are the words that are not empty, with commas between.
func joined(words ...string) string {
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), ", ")
}
