package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/render"
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

func (a *app) ridePlace() *cobra.Command {
	cmd := &cobra.Command{
		Use: "place RIDE", Short: "Compute who rides where; publishes nothing",
		Example: "  gritward ride place 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		who, err := s.me()
		if err != nil {
			return err
		}
		ride, err := s.getRide(args[0])
		if err != nil {
			return err
		}
		answer, err := s.rides.PlaceRide(s.ctx, &pb.PlaceRideRequest{Name: ride.GetName()})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			p.roster(asRoster(ride, answer, who.GetClub()), render.RosterOnly)
			p.line("")
			layScore(p, answer)
			p.line("Next: gritward ride publish %s --basis %s", names.Last(ride.GetName()), answer.GetBasis())
		})
	})
}

// layScore tells how good a placement is, by its objectives in their order.
func layScore(p *page, placement *pb.Placement) {
	proven := "the best there is"
	if !placement.GetProven() {
		proven = "good, but not proven the best there is"
	}
	p.line("Placed %s; without a place %d; %s met; %s from the last issue; discomfort %d: %s.",
		count(int(placement.GetPlaced()), "rider", "riders"), len(placement.GetUnplaced()),
		count(int(placement.GetPreferencesMet()), "wish", "wishes"), count(int(placement.GetMoves()), "move", "moves"),
		placement.GetDiscomfort(), proven)
}

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
			return s.withRides(err)
		}
		return a.answer(answer, func(p *page) {
			p.line("Issue %d of %s is published.", answer.GetNumber(), names.Last(name))
			for _, change := range answer.GetChanges() {
				p.line("  %s", change)
			}
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
