package brief

import (
	"slices"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (t *teller) order() *section {
	s := &section{id: "order", title: "How we ride"}
	if t.r.GetRide().GetSingleFile() {
		s.say("We ride in single file.")
	} else {
		// Highway Code (United Kingdom) 66: two abreast is allowed, and can be safer in larger groups; let drivers pass when
		// it is safe.
		s.say("We ride two abreast, and in single file as soon as the leader calls it. We let traffic pass where it is safe.")
	}
	if !t.r.GetRide().GetSingleFile() && slices.ContainsFunc(t.groups, func(g group) bool { return narrow(g.plan) }) {
		s.say("Wherever it is icy or we see little we ride in single file, without waiting for the call.")
	}
	for _, g := range t.groups {
		s.lines = append(s.lines, t.roles(g))
		if behind := t.behind(g); len(behind) > 0 {
			s.say("Sent to the back of %s, and no turns at the front: %s.", g.title, phrase.List(behind))
		}
		t.abovePace(s, g)
		t.wishes(s, g)
		for _, note := range g.GetNotes() {
			s.say("%s: %s", g.title, phrase.Stopped(note))
		}
	}
	// Gap, overlap, calls and regrouping: common practice, no source. Calls differ from region to region, so that only the
	// habit is told, not the words.
	s.say("Leave half a metre to a metre to the wheel in front on a dry road by day, a metre or more when it is wet, icy, dark or hard to see. Never overlap wheels.")
	s.say("Point out and call holes, gravel, ice and parked cars, and pass every call on. Call before you slow, and do not swerve.")
	s.say("Agree on the calls for traffic in front and behind before we start.")
	s.say("The back marker is the last on the road. We wait at the top of climbs and after junctions until the back marker is there.")
	return s
}

// roles tells who leads a group and who marks its back.
func (t *teller) roles(g group) string {
	leads, marks := "nobody is named to lead", "nobody is named to mark the back"
	if g.GetLeader() != "" {
		leads = t.person(g.GetLeader()) + " leads"
	}
	if g.GetBackMarker() != "" {
		marks = t.person(g.GetBackMarker()) + " marks the back"
	}
	return g.title + ": " + leads + ", " + marks + "."
}

func (t *teller) rider(r *pb.Rider) string {
	return phrase.FirstOf(r.GetDisplayName(), t.person(r.GetMember()))
}

// behind are the riders who are sent to the back of a group, each with what for: "Jon Marl (guards)".
func (t *teller) behind(g group) []string {
	var out []string
	for _, rider := range ridersOf(g.RosterGroup) {
		if rider.GetStanding() != pb.Standing_BACK || rider.GetLeads() {
			continue // one who leads is told of in the notes
		}
		var why []string
		for _, f := range rider.GetFindings() {
			if about := subject(f); f.GetStanding() == pb.Standing_BACK && !slices.Contains(why, about) {
				why = append(why, about)
			}
		}
		out = append(out, t.rider(rider)+phrase.Between(" (", phrase.List(why), ")"))
	}
	return out
}

// subject is what a finding is about, in a word: what its rule looks at, or the rule's own name.
func subject(f *pb.Finding) string {
	switch c := f.GetCheck(); c {
	case pb.Check_CHECK_UNSPECIFIED, pb.Check_EXPRESSION:
		return phrase.FirstOf(f.GetRule(), "a rule")
	case pb.Check_CONTACT:
		return "bar, saddle or pedals"
	case pb.Check_CARRY:
		return "kit"
	case pb.Check_CLEAN:
		return "washing"
	default:
		return strings.ToLower(c.String())
	}
}
