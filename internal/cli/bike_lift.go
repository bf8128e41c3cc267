package cli

import (
	"cmp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (a *app) bikeLift() *cobra.Command {
	cmd := &cobra.Command{
		Use: "lift BIKE --ride RIDE", Short: "What would make a bike stand better on a ride",
		Long: "For each group the smallest sets of things to put right that lift the standing: first what is enough to start at\n" +
			"all or to leave the back, last what clears the bike. Each set is enough by itself. Groups with the same answer are\n" +
			"told together. When it is done, declare the bike again or record the work.",
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
	for i, lifts := range alikeLifts(lifts) {
		if i > 0 {
			p.line("")
		}
		lift, names := lifts[0], make([]string, len(lifts))
		for j, one := range lifts {
			names[j] = one.GetGroup()
		}
		p.line("%s: stands %s", strings.Join(names, ", "), word(lift.GetStanding()))
		switch {
		case len(lift.GetWays()) > 0:
		case lift.GetStanding() == pb.Standing_CLEAR:
			p.line("  Nothing to put right.")
		case len(lift.GetStays()) > 0:
			p.para(2, "Nothing that could be done to the bike lifts it, for %s.", stays(lift))
		default:
			p.line("  Nothing that could be done to the bike lifts it.")
		}
		for _, way := range smallestFirst(lift.GetWays()) {
			layWay(p, way, len(lifts) > 1)
		}
		if len(lift.GetWays()) > 0 && len(lift.GetStays()) > 0 {
			p.para(2, "clear: not by work on the bike, for %s.", stays(lift))
		}
	}
}

// stays says which rules ask for what no work on the bike gives.
func stays(lift *pb.Lift) string {
	var rules []string
	for _, rule := range lift.GetStays() {
		rules = append(rules, "rule "+rule)
	}
	if len(rules) == 1 {
		return rules[0] + " asks for something else"
	}
	return phrase.List(rules) + " ask for something else"
}

// alikeLifts puts groups together that have the same standing, the same ways to lift it, and the same rules in the way.
func alikeLifts(lifts []*pb.Lift) [][]*pb.Lift {
	var sets [][]*pb.Lift
	for _, lift := range lifts {
		i := slices.IndexFunc(sets, func(set []*pb.Lift) bool {
			return set[0].GetStanding() == lift.GetStanding() && slices.EqualFunc(set[0].GetWays(), lift.GetWays(), phrase.SameWay) &&
				slices.Equal(set[0].GetStays(), lift.GetStays())
		})
		if i < 0 {
			sets = append(sets, []*pb.Lift{lift})
			continue
		}
		sets[i] = append(sets[i], lift)
	}
	return sets
}

// smallestFirst are ways by what they reach, the least first: to start at all comes before to be clear.
func smallestFirst(ways []*pb.LiftWay) []*pb.LiftWay {
	return slices.SortedStableFunc(slices.Values(ways), func(a, b *pb.LiftWay) int {
		return cmp.Compare(b.GetReaches(), a.GetReaches())
	})
}

// layWay writes a way of one step as its sentence, which names the group if it is of one alone, and one of several as a
// list.
func layWay(p *page, way *pb.LiftWay, groups bool) {
	if len(way.GetSteps()) < 2 {
		words := way.GetWords()
		if groups && len(way.GetSteps()) == 1 {
			words = way.GetSteps()[0].GetRemedy()
		}
		p.para(2, "%s: %s", word(way.GetReaches()), words)
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

// layShortLift tells the first step up of each group on one line: the fewest things that take the bike out of where it
// stands.
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
		p.para(2, "%s: %s", lift.GetGroup(), firstStep(lift).GetWords())
	}
}

// firstStep is the way of the fewest steps; of those the one that reaches most.
func firstStep(lift *pb.Lift) *pb.LiftWay {
	return slices.MinFunc(lift.GetWays(), func(a, b *pb.LiftWay) int {
		return cmp.Or(cmp.Compare(len(a.GetSteps()), len(b.GetSteps())), cmp.Compare(a.GetReaches(), b.GetReaches()))
	})
}
