package cli

import (
	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideShare() *cobra.Command {
	cmd := &cobra.Command{
		Use: "share RIDE", Short: "Make the link that opens a ride's roster to people outside the club",
		Long: "The link shows the newest issue, until seven days after the start, to whoever has it: it names members who agreed to\n" +
			"that, and nobody else. It is told once. A new one takes the place of that before. With --show it is only told whether\n" +
			"there is one; with --stop it is taken away, and opens nothing any more.",
		Example: "  gritward ride share 2026-12-13-moors\n  gritward ride share 2026-12-13-moors --stop", Args: cobra.ExactArgs(1),
	}
	show := cmd.Flags().Bool("show", false, "whether there is a link, and how many names it tells")
	stop := cmd.Flags().Bool("stop", false, "take the link away")
	cmd.MarkFlagsMutuallyExclusive("show", "stop")
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		var share *pb.RosterShare
		switch {
		case *show:
			share, err = s.rides.GetRosterShare(s.ctx, &pb.GetRosterShareRequest{Parent: ride})
		case *stop:
			share, err = s.rides.UnshareRoster(s.ctx, &pb.UnshareRosterRequest{Parent: ride})
		default:
			share, err = s.rides.ShareRoster(s.ctx, &pb.ShareRosterRequest{Parent: ride})
		}
		if err != nil {
			return s.withRides(err)
		}
		return a.answer(share, func(p *page) {
			switch {
			case *stop:
				p.line("The link is taken away: it opens nothing any more.")
			case !share.GetCreatedAt().IsValid():
				p.line("There is no link.")
			default:
				if url := share.GetPageUrl(); url != "" {
					p.line("%s", url)
				} else if key := share.GetKey(); key != "" {
					p.para(0, "The link is made, but its address cannot be told: the server's settings have no pages_address. Whoever runs the server "+
						"sets it beside pages_listen, as in pages_address: https://rides.example, and restarts it; then run this again.")
					p.line("The key of this link is %s", key)
				}
				p.line("It opens the roster of %s to whoever has it, until %s. It names %d of %s.", names.Last(ride),
					when(share.GetExpiresAt(), zone), share.GetNamed(), phrase.Counted(int(share.GetRiders()), "rider", "riders"))
			}
		})
	})
}
