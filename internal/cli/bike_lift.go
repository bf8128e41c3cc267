package cli

import (
	"slices"

	"github.com/spf13/cobra"

	pb "gritward/proto/gritward/v1"
)

func (a *app) bikeLift() *cobra.Command {
	cmd := &cobra.Command{
		Use: "lift BIKE --ride RIDE", Short: "What would make a bike stand better on a ride",
		Long: "For each group the smallest sets of things to put right that lift the standing, best first. Each set is enough\n" +
			"by itself. When it is done, declare the bike again or record the work.",
		Example: "  gritward bike lift blue-winter-bike --ride 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	ride := cmd.Flags().String("ride", "", "ride whose groups to look at")
	needs(cmd, "ride")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.bikeName(args[0], "")
		if err != nil {
			return err
		}
		rideName, err := s.rideName(*ride)
		if err != nil {
			return err
		}
		answer, err := s.bikes.LiftBike(s.ctx, &pb.LiftBikeRequest{Name: name, Ride: rideName})
		if err != nil {
			return s.withBikes(err, name)
		}
		return a.answer(answer, func(p *page) { layLifts(p, answer.GetLifts()) })
	})
}

func layLifts(p *page, lifts []*pb.Lift) {
	if len(lifts) == 0 {
		p.line("Nothing was assessed.")
	}
	for i, lift := range lifts {
		if i > 0 {
			p.line("")
		}
		p.line("%s: stands %s", lift.GetGroup(), word(lift.GetStanding()))
		switch {
		case len(lift.GetWays()) > 0:
		case lift.GetStanding() == pb.Standing_CLEAR:
			p.line("  Nothing to put right.")
		default:
			p.line("  Nothing that could be done to the bike lifts it.")
		}
		for _, way := range lift.GetWays() {
			layWay(p, way)
		}
	}
}

// layWay writes a way of one step as its sentence, and one of several as a list.
func layWay(p *page, way *pb.LiftWay) {
	if len(way.GetSteps()) < 2 {
		p.para(2, "%s: %s", word(way.GetReaches()), way.GetWords())
		return
	}
	p.line("  %s, by all of these:", word(way.GetReaches()))
	for _, step := range way.GetSteps() {
		p.para(4, "%s: %s", step.GetRule(), step.GetRemedy())
	}
}

// shortLift asks what would lift a bike's standing, when there is a ride and a group in which the bike does not ride
// anywhere it likes. In JSON the answer is the assessments alone.
func (s *session) shortLift(bike, ride string, standings []*pb.Assessment) ([]*pb.Lift, error) {
	low := slices.ContainsFunc(standings, func(one *pb.Assessment) bool { return one.GetStanding() >= pb.Standing_BACK })
	if s.json || ride == "" || !low {
		return nil, nil
	}
	answer, err := s.bikes.LiftBike(s.ctx, &pb.LiftBikeRequest{Name: bike, Ride: ride})
	return answer.GetLifts(), err
}

// layShortLift tells the best way of each group on one line.
func layShortLift(p *page, bike, ride string, lifts []*pb.Lift) {
	first := true
	for _, lift := range lifts {
		if lift.GetStanding() < pb.Standing_BACK || len(lift.GetWays()) == 0 {
			continue
		}
		if first {
			p.line("")
			p.para(0, "What would move it up (all ways: gritward bike lift %s --ride %s)", bike, ride)
			first = false
		}
		p.para(2, "%s: %s", lift.GetGroup(), lift.GetWays()[0].GetWords())
	}
}
