package render

import (
	"strconv"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (s *sheet) riderView(r *pb.Rider) riderView {
	word := standingReasons(r.GetStanding(), r.GetFindings())
	if sentBack(r) {
		word = "sent to the " + word
	}
	return riderView{
		member: r.GetMember(), Leads: r.GetLeads(), MarksBack: r.GetMarksBack(), Back: sentBack(r),
		Aside: joined(roles(&pb.Rider{Junior: r.GetJunior(), GuestOf: r.GetGuestOf()}), paceOff(r), wished(r)),
		Name:  s.rider(r), Bike: r.GetBikeTitle(), Tags: joined(roles(r), paceOff(r), wished(r)), Kind: standingKind(r.GetStanding()),
		Shape: phrase.StandingShape(r.GetStanding()), Word: word,
		Findings: findingViews(r.GetFindings()), FindingCount: phrase.Counted(len(unmet(r.GetFindings())), "finding", "findings"),
	}
}

func (s *sheet) unplacedView(u *pb.Unplaced) riderView {
	v := riderView{
		Name: s.unplaced(u), Bike: u.GetBikeTitle(), Reasons: u.GetWhy(), Findings: findingViews(u.GetFindings()),
		FindingCount: phrase.Counted(len(unmet(u.GetFindings())), "finding", "findings"),
	}
	if u.GetWaiting() {
		v.Waits = "waits for a place"
	}
	return v
}

func findingViews(fs []*pb.Finding) []findingView {
	var out []findingView
	for _, f := range worstFirst(fs) {
		v := findingView{
			About: about(f), Word: phrase.Standing(f.GetStanding()), Shape: phrase.StandingShape(f.GetStanding()),
			Needed: phrase.FirstOf(f.GetNeeded(), "what rule "+f.GetRule()+" says"), Declared: declared(f), Remedy: f.GetRemedy(), Because: f.GetBecause(),
		}
		if f.GetPolicyLine() > 0 {
			v.Line = strconv.Itoa(int(f.GetPolicyLine()))
		}
		out = append(out, v)
	}
	return out
}

// standingKind is the name of a standing in the style sheet.
func standingKind(s pb.Standing) string {
	if s == pb.Standing_STANDING_UNSPECIFIED || s > pb.Standing_HELD {
		return "none"
	}
	return phrase.Standing(s)
}
