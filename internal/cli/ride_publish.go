package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) ridePublish() *cobra.Command {
	cmd := &cobra.Command{
		Use: "publish RIDE", Short: "Publish the next issue of the roster, with its brief",
		Long: "With --basis, as gritward ride place tells it, exactly the placement that was looked at is published, or\n" +
			"nothing if anything changed since. Without, what can be placed now.",
		Example: "  gritward ride publish 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	basis := cmd.Flags().String("basis", "", "basis of the placement looked at")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		answer, err := s.rides.PublishRoster(s.ctx, &pb.PublishRosterRequest{Parent: name, Basis: *basis, RequestId: requestID()})
		if err != nil {
			return s.whyUnplaced(s.withRides(err), name)
		}
		return a.answer(answer, func(p *page) {
			p.line("Issue %d of %s is published.", answer.GetNumber(), names.Last(name))
			for _, change := range answer.GetChanges() {
				p.line("  %s", spaced(change))
			}
			layPaces(p, answer.GetPlacement())
			layScore(p, answer.GetPlacement())
			p.line("Next: gritward ride roster %s, gritward ride brief %s", names.Last(name), names.Last(name))
		})
	})
}

// getRoster reads an issue of a ride's roster; 0 is the newest.
func (s *session) getRoster(ref string, issue int32) (*pb.Roster, error) {
	ride, err := s.rideName(ref)
	if err != nil {
		return nil, err
	}
	number := names.Any
	if issue > 0 {
		number = fmt.Sprint(issue)
	}
	roster, err := s.rides.GetRoster(s.ctx, &pb.GetRosterRequest{Name: ride + "/rosters/" + number})
	if isReason(err, pb.Reason_NOT_FOUND) {
		if _, rideErr := s.rides.GetRide(s.ctx, &pb.GetRideRequest{Name: ride}); rideErr != nil {
			return nil, s.withRides(rideErr)
		}
		return nil, hinted{"next: a leader publishes the next issue with gritward ride publish " + ref, err}
	}
	return roster, err
}
