package cli

import (
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// pinFlags say what is to be fixed: a rider in a group, or whether a group runs.
type pinFlags struct {
	set           *pflag.FlagSet
	member, group string
}

func addPinFlags(set *pflag.FlagSet) *pinFlags {
	f := &pinFlags{set: set}
	set.StringVar(&f.member, "member", "", "rider; left out: the group itself")
	set.StringVar(&f.group, "group", "", "group")
	return f
}

func (a *app) ridePin() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "pin RIDE --group GROUP --reason TEXT",
		Short: "Fix a rider in a group, or that a group runs or does not",
		Long: "With --member the rider rides in the group, or not at all where that cannot be. Without, the group runs, or with\n" +
			"--runs=false does not. What breaks a hard rule is refused, with the rules in the way: a held bike, sizes, back\n" +
			"places, leader and back marker, a junior without the guardian. --override gives the reason to set them aside; it\n" +
			"stands on the roster. Of a held bike it is told what is wrong, and --held-bike-rides has to be given as well: in the\n" +
			"dark, or with bad brakes, it can hurt the rider and others. Pins are checked again whenever riders are placed.",
		Example: "  gritward ride pin 2026-12-13-moors --member ida-holm --group easy --reason \"comes back from an injury\"\n" +
			"  gritward ride pin 2026-12-13-moors --group brisk --runs=false --reason \"ice on the top road\"",
		Args: cobra.ExactArgs(1),
	}
	f := addPinFlags(cmd.Flags())
	runs := cmd.Flags().Bool("runs", true, "the group runs; false: it does not")
	reason := cmd.Flags().String("reason", "", "why, told on the roster")
	override := cmd.Flags().String("override", "", "why the hard rules in the way are set aside, told on the roster")
	rides := cmd.Flags().Bool("held-bike-rides", false, "beside --override: you have seen what is wrong with the held bike, and it rides all the same")
	needs(cmd, "group", "reason")
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		if f.member == "" {
			if *rides {
				return usagef("--held-bike-rides is about a rider's bike; give --member, or leave it out")
			}
			answer, err := s.rides.PinGroup(s.ctx, &pb.PinGroupRequest{
				Parent: ride, Group: f.group, Runs: *runs, Reason: *reason, OverrideReason: *override})
			if err != nil {
				return pinHint(err, *override)
			}
			return a.answer(answer, func(p *page) { layGroupPin(p, answer, f.group) })
		}
		if f.set.Changed("runs") {
			return usagef("--runs is for a group; leave it out beside --member")
		}
		member, err := s.memberName(f.member)
		if err != nil {
			return err
		}
		answer, err := s.rides.PinRider(s.ctx, &pb.PinRiderRequest{
			Parent: ride, Member: member, Group: f.group, Reason: *reason, OverrideReason: *override, HeldBikeRides: *rides})
		if err != nil {
			return pinHint(err, *override)
		}
		return a.answer(answer, func(p *page) {
			p.line("%s is fixed in %s: %s", answer.GetDisplayName(), answer.GetPin().GetGroup(), answer.GetPin().GetReason())
			laySetAside(p, answer.GetPin().GetOverrides())
			p.line("Next: gritward ride place %s", names.Last(ride))
		})
	})
}

func layGroupPin(p *page, ride *pb.Ride, group string) {
	for _, pin := range ride.GetGroupPins() {
		if pin.GetGroup() != group {
			continue
		}
		what := "runs"
		if !pin.GetRuns() {
			what = "does not run"
		}
		p.line("Fixed: %s %s: %s", group, what, pin.GetReason())
		laySetAside(p, pin.GetOverrides())
	}
	p.line("Next: gritward ride place %s", names.Last(ride.GetName()))
}

// laySetAside tells what a pin sets aside.
func laySetAside(p *page, sets []*pb.Override) {
	for _, set := range sets {
		p.para(2, "! Set aside: %s, because: %s", set.GetWhat(), set.GetReason())
	}
}

// pinHint says how to set rules aside, where the refusal is about rules.
func pinHint(err error, override string) error {
	if !isReason(err, pb.Reason_WRONG_STATE) || override != "" {
		return err
	}
	return hinted{"next: choose another group, or set the rules aside with --override TEXT, which stands on the roster", err}
}

func (a *app) rideUnpin() *cobra.Command {
	cmd := &cobra.Command{
		Use: "unpin RIDE", Short: "Take away what was fixed for a rider or a group",
		Example: "  gritward ride unpin 2026-12-13-moors --member ida-holm\n  gritward ride unpin 2026-12-13-moors --group brisk",
		Args:    cobra.ExactArgs(1),
	}
	f := addPinFlags(cmd.Flags())
	return a.online(cmd, func(s *session, args []string) error {
		if (f.member == "") == (f.group == "") {
			return usagef("give one of --member and --group")
		}
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		if f.group != "" {
			answer, err := s.rides.UnpinGroup(s.ctx, &pb.UnpinGroupRequest{Parent: ride, Group: f.group})
			if err != nil {
				return err
			}
			return a.answer(answer, func(p *page) { p.line("Nothing is fixed of %s any more.", f.group) })
		}
		member, err := s.memberName(f.member)
		if err != nil {
			return err
		}
		answer, err := s.rides.UnpinRider(s.ctx, &pb.UnpinRiderRequest{Parent: ride, Member: member})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) { p.line("%s is no longer fixed in a group.", answer.GetDisplayName()) })
	})
}
