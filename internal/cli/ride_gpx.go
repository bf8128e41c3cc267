package cli

import (
	"github.com/spf13/cobra"

	pb "gritward/proto/gritward/v1"
)

// writtenFile is the answer of a command that wrote a file, with --json.
type writtenFile struct {
	File  string `json:"file"`
	Bytes int    `json:"bytes"`
}

func (a *app) rideGPX() *cobra.Command {
	cmd := &cobra.Command{
		Use: "gpx RIDE FILE", Short: "Write the ride's route with each group's planned times as GPX 1.1",
		Long: "Writes the cleaned line of the route, its waypoints, the ride's stops, hazards and ways out, and a track for each group\n" +
			"with the time at which it is planned to reach each point. - writes to standard output.",
		Example: "  gritward ride gpx 2026-12-13-moors moors.gpx\n" +
			"  gritward ride gpx 2026-12-13-moors easy.gpx --group easy",
		Args: cobra.ExactArgs(2),
	}
	a.writes(cmd)
	groups := cmd.Flags().StringArray("group", nil, "id of a group whose times are wanted (repeat; none: all)")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		done := a.progress("reckoning the times")
		defer done()
		answer, err := s.rides.ExportRoute(s.ctx, &pb.ExportRouteRequest{Name: name, Groups: *groups})
		done()
		if err != nil {
			return s.withRides(err)
		}
		written := writtenFile{args[1], len(answer.GetGpx())}
		return a.deliver(args[1], answer.GetGpx(), written, func(p *page) { p.line("Written: %s", written.File) })
	})
}
