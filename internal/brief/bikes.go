package brief

import (
	"slices"
	"strconv"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (t *teller) bikes() *section {
	s := &section{id: "bikes", title: "Bikes to watch"}
	t.held(s)
	common := t.sharedAdvice()
	for _, g := range t.groups {
		for _, rider := range ridersOf(g.RosterGroup) {
			if words := findings(common.without(rider.GetFindings())); words != "" {
				s.say("%s, %s, in %s%s. %s", t.rider(rider), bikeOf(rider.GetBikeTitle()), g.title, standing(rider.GetStanding()), words)
			}
		}
	}
	s.lines = append(s.lines, common.lines()...)
	for _, o := range t.r.GetPlacement().GetOverrides() {
		what := phrase.FirstOf(phrase.Bare(o.GetWhat()), "the rule "+phrase.FirstOf(o.GetRule(), "without a name"))
		s.say("Set aside for %s by %s: %s. Reason: %s",
			phrase.FirstOf(t.person(o.GetMember()), o.GetGroup()), t.person(o.GetBy()), what, phrase.FirstOf(phrase.Stopped(o.GetReason()), "none given."))
	}
	switch {
	case t.r.GetWithheld():
		s.say("What is open on others' bikes is told to them and to the leaders.")
	case len(s.lines) == 0:
		s.say("No bike has anything open.")
	}
	// Common practice, no source.
	s.say("Before we start, each of us looks over the bike: brakes bite, tyres hard and whole, wheels held, nothing loose, lights work.")
	return s
}

// held tells who is held, and what would change that.
func (t *teller) held(s *section) {
	var names []string
	for _, u := range t.r.GetPlacement().GetUnplaced() {
		if !holdsBike(u.GetFindings()) {
			continue
		}
		name := phrase.FirstOf(u.GetDisplayName(), t.person(u.GetMember()))
		names = append(names, name)
		s.say("%s, %s, is held. %s", name, bikeOf(u.GetBikeTitle()), findings(u.GetFindings()))
	}
	switch len(names) {
	case 0:
	case 1:
		s.alert("%s is held until the bike is put right.", names[0])
	default:
		s.alert("%s are held until their bikes are put right.", phrase.List(names))
	}
}

func holdsBike(fs []*pb.Finding) bool {
	for _, f := range fs {
		if f.GetStanding() == pb.Standing_HELD {
			return true
		}
	}
	return false
}

// findings tells what is not met, with the remedies, worst first.
func findings(fs []*pb.Finding) string {
	var parts []string
	fs = slices.Clone(fs)
	slices.SortStableFunc(fs, func(a, b *pb.Finding) int { return int(b.GetStanding()) - int(a.GetStanding()) })
	for _, f := range fs {
		if f.GetStanding() == pb.Standing_CLEAR {
			continue
		}
		parts = append(parts, "Needed: "+needed(f)+policyLine(f)+".")
		switch declared := phrase.Bare(f.GetDeclared()); {
		case declared == "not declared" || declared == "" && f.GetNotDeclared():
			parts = append(parts, "Not declared.")
		case declared != "":
			parts = append(parts, "Declared: "+declared+".")
		}
		if remedy := f.GetRemedy(); remedy != "" {
			parts = append(parts, "To put it right: "+phrase.Stopped(remedy))
		}
	}
	return strings.Join(parts, " ")
}

func needed(f *pb.Finding) string {
	return phrase.FirstOf(phrase.Bare(f.GetNeeded()), "what the rule "+f.GetRule()+" says")
}

// policyLine is where the rule stands in the policy: " (policy line 122)".
func policyLine(f *pb.Finding) string {
	if f.GetPolicyLine() <= 0 {
		return ""
	}
	return " (policy line " + strconv.Itoa(int(f.GetPolicyLine())) + ")"
}

// standing is a rider's standing as the end of a phrase.
func standing(st pb.Standing) string {
	return map[pb.Standing]string{
		pb.Standing_BACK: ", at the back", pb.Standing_ADVISED: ", with advice", pb.Standing_HELD: ", held by the rules",
	}[st]
}

func bikeOf(title string) string { return phrase.FirstOf(phrase.Bare(title), "a bike without a name") }
