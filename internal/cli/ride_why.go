package cli

import (
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
		return a.answer(answer, func(p *page) { p.explanation(answer) })
	})
}
