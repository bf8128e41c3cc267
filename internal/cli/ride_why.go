package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideWhy() *cobra.Command {
	cmd := &cobra.Command{
		Use: "why RIDE [MEMBER]", Short: "Why a rider rides where, and what would change it",
		Long: "As things stand now: which group, what each other group would take, what is in the way, and what would change it.\n" +
			"Whatever is said to change it was tried by placing everybody anew. A member may ask about the own place; the ride's\n" +
			"leader and secretaries about everybody's.",
		Example: "  gritward ride why 2026-12-13-moors ida-holm", Args: cobra.RangeArgs(1, 2),
	}
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		ref := ""
		if len(args) > 1 {
			ref = args[1]
		}
		member, err := s.memberName(ref)
		if err != nil {
			return err
		}
		answer, err := s.rides.ExplainPlace(s.ctx, &pb.ExplainPlaceRequest{Name: ride + "/signups/" + names.Last(member)})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) { layExplanation(p, answer) })
	})
}

func layExplanation(p *page, why *pb.Explanation) {
	where := "has no place"
	if why.GetTitle() != "" {
		where = "rides in " + why.GetTitle()
	}
	p.para(0, "%s %s. %s", why.GetDisplayName(), where, why.GetWhy())
	switch {
	case why.GetIssue() == 0:
		p.line("No roster is published yet: this is how riders would be placed now.")
	case why.GetIssueTitle() != why.GetTitle():
		p.para(0, "! Issue %d, the newest, says otherwise: %s. Things have changed since; the leader publishes the next.", why.GetIssue(),
			groupTitle(why.GetIssueTitle(), "no place"))
	}
	for _, option := range why.GetOptions() {
		p.line("")
		layOption(p, option)
		for _, idle := range why.GetIdle() {
			if idle.GetGroup() == option.GetGroup() {
				p.para(2, "Does not run: %s.%s", idle.GetWhy(), prefixed(" ", idle.GetLetsRun()))
			}
		}
	}
}

func layOption(p *page, option *pb.GroupOption) {
	p.para(0, "%s: %s", groupTitle(option.GetTitle(), option.GetGroup()), option.GetWords())
	for _, one := range option.GetBinding() {
		p.para(2, "In the way: %s", one)
	}
	if cost := option.GetCost(); cost != nil && option.GetVerdict() != pb.GroupOption_HERE && option.GetVerdict() != pb.GroupOption_TIED {
		p.para(2, "With the rider there: %s.", lossWords(cost))
	}
	for _, remedy := range option.GetRemedies() {
		p.para(2, "Would change it: %s", remedy.GetWords())
	}
}

// lossWords tells the first objective that differs, by which placements are compared.
func lossWords(cost *pb.PlacementCost) string {
	for _, part := range []struct {
		by           int32
		one, many    string
		worse, other string
	}{
		{cost.GetUnplaced(), "rider", "riders", "without a place more", "without a place fewer"},
		{cost.GetDiscomfort(), "point", "points", "of discomfort more", "of discomfort less"},
		{cost.GetWishes(), "wish", "wishes", "met fewer", "met more"},
		{cost.GetMoves(), "rider", "riders", "moved from the last issue more", "moved from the last issue fewer"},
	} {
		if part.by > 0 {
			return fmt.Sprintf("%s %s", count(int(part.by), part.one, part.many), part.worse)
		}
		if part.by < 0 {
			return fmt.Sprintf("%s %s", count(int(-part.by), part.one, part.many), part.other)
		}
	}
	return "nothing is lost"
}
