package cli

import (
	"github.com/spf13/cobra"

	pb "gritward/proto/gritward/v1"
)

func (a *app) ridePlan() *cobra.Command {
	cmd := &cobra.Command{
		Use: "plan RIDE", Short: "Where each group is when, and in what light",
		Example: "  gritward ride plan 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		who, err := s.me()
		if err != nil {
			return err
		}
		name, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		answer, err := s.rides.PlanRide(s.ctx, &pb.PlanRideRequest{Name: name})
		if err != nil {
			return s.withRides(err)
		}
		return a.answer(answer, func(p *page) { p.plan(answer, who.GetClub().GetZone()) })
	})
}
