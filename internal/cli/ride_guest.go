package cli

import (
	"github.com/spf13/cobra"

	pb "gritward/proto/gritward/v1"
)

func (a *app) rideGuest() *cobra.Command {
	cmd := &cobra.Command{
		Use: "guest RIDE NAME FILE.yaml", Short: "Sign up a guest who has no device, under your name",
		Long: "Signs up a guest for this ride only. FILE.yaml is a bike file, as gritward bike example prints one, that says what\n" +
			"you found when you looked the guest's bike over: you certify it, and the declaration says so. Everybody is held to\n" +
			"the same rules. A guest with a device is invited instead: gritward member invite NAME --ride RIDE.",
		Example: "  gritward ride guest 2026-12-13-moors \"Per Lund\" guest-bike.yaml --group easy", Args: cobra.ExactArgs(3),
	}
	group := cmd.Flags().String("group", "", "group wished for (default any)")
	party := cmd.Flags().String("party", "", "ride together with everyone who gives the same word")
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		facts, err := a.factsIn(args[2])
		if err != nil {
			return err
		}
		answer, err := s.rides.AddGuest(s.ctx, &pb.AddGuestRequest{
			Parent: ride, DisplayName: args[1], Facts: facts, PreferredGroup: *group, Party: *party, RequestId: requestID()})
		if err != nil {
			return err
		}
		stale, err := s.stale(ride)
		if err != nil {
			return err
		}
		titles, err := s.titles(answer.GetSignup().GetBike(), ride)
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			laySignup(p, answer.GetSignup(), titles)
			p.line("")
			p.line("You certified the bike %s, and answer for the guest on this ride.", s.shortBike(answer.GetBike().GetName()))
			if note := answer.GetNote(); note != "" {
				p.para(0, "Note: %s", told(note))
			}
			stale(p)
		})
	})
}
