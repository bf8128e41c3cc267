package brief

import (
	"slices"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// dawn is the first light, where any group starts before the morning's lights go out.
func (t *teller) dawn() *timestamppb.Timestamp {
	if slices.ContainsFunc(t.groups, func(g group) bool { return phrase.FromDark(t.r.GetPlan(), g.plan) }) {
		return t.r.GetPlan().GetCivilDawnAt()
	}
	return nil
}

// startTimes tells when a group may start for a ride in the light; empty where that is not known or does not matter.
func (t *teller) startTimes(p *pb.GroupPlan) string {
	what, earliest, latest := phrase.StartInLight(t.r.GetPlan(), p)
	switch home := " to be home " + phrase.Margin(t.r.GetPlan()) + "."; what {
	case phrase.NeverUnlit:
		return "No start that day does without lights."
	case phrase.BetweenOnly:
		return "Without lights it would have to start between " + t.clock(earliest) + " and " + t.clock(latest) + "."
	case phrase.StartInDark:
		return ""
	case phrase.StartTooLate:
		return "It would have to start by " + t.clock(latest) + home
	case phrase.StartUntilThen:
		return "Start by " + t.clock(latest) + home
	}
	if p.MarginMin == nil && p.GetDarkMin() <= 0 { // it never gets dark
		return ""
	}
	return "No start that day brings it home " + phrase.Margin(t.r.GetPlan()) + "."
}
