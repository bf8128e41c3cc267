package cli

import (
	"fmt"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideJoin() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "join RIDE --bike BIKE",
		Short: "Sign up for a ride, or change your sign-up",
		Long: "The answer tells where the bike stands in each group, at that group's times. Joining again takes the place\n" +
			"of the sign-up that is there, with what is given this time.",
		Example: "  gritward ride join 2026-12-13-moors --bike blue-winter-bike --group steady --party gate-lane",
		Args:    cobra.ExactArgs(1),
	}
	flags := cmd.Flags()
	bike := flags.String("bike", "", "bike to ride")
	group := flags.String("group", "", "group wished for (default any)")
	party := flags.String("party", "", "ride together with everyone who gives the same word")
	lead := flags.Bool("will-lead", false, "ready to lead a group this time (default: as qualified)")
	back := flags.Bool("will-mark-back", false, "ready to mark the back this time (default: as qualified)")
	member := flags.String("member", "", "sign up another member (the ride's leader, secretaries)")
	needs(cmd, "bike")
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		signup := &pb.Signup{PreferredGroup: *group, Party: *party}
		if signup.Member, err = s.memberName(*member); err != nil {
			return err
		}
		if signup.Bike, err = s.bikeName(*bike, signup.GetMember()); err != nil {
			return err
		}
		if flags.Changed("will-lead") {
			signup.WillLead = proto.Bool(*lead)
		}
		if flags.Changed("will-mark-back") {
			signup.WillMarkBack = proto.Bool(*back)
		}
		answer, err := s.rides.JoinRide(s.ctx, &pb.JoinRideRequest{Parent: ride, Signup: signup, RequestId: requestID()})
		if err != nil {
			return err
		}
		stale, err := s.stale(ride)
		if err != nil {
			return err
		}
		titles, err := s.titles(answer.GetBike(), ride)
		if err != nil {
			return err
		}
		paceless, err := s.paceless(answer)
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			laySignup(p, answer, titles)
			if paceless != "" {
				p.line("")
				p.para(0, "%s", paceless)
			}
			stale(p)
		})
	})
}

// paceless tells a member who has stated no pace, and wishes for no group, what comes of that; "" where there is nothing to tell.
func (s *session) paceless(signup *pb.Signup) (string, error) {
	me, err := s.me()
	if err != nil {
		return "", err
	}
	member := me.GetMember()
	if signup.GetMember() != member.GetName() || !s.may(pb.Role_MEMBER) || signup.GetPreferredGroup() != "" ||
		member.GetPaceMinKmh() > 0 || member.GetPaceMaxKmh() > 0 {
		return "", nil
	}
	known, err := s.people()
	if err != nil {
		return "", err
	}
	return "You have stated no pace, so that you can be placed in any group, the fastest too. Say which suits you: gritward member change " +
		known.ref(member.GetName()) + " --pace 20-24, or which group you would like: --group.", nil
}

func laySignup(p *page, signup *pb.Signup, titles render.Titles) {
	who := signup.GetDisplayName()
	if who == "" {
		who = names.Last(signup.GetMember())
	}
	ride := names.Part(signup.GetName(), "rides")
	switch signup.GetState() {
	case pb.Signup_WAITING:
		p.line("%s waits for a place on %s: all are taken, and %s.", who, ride, waitingWords(signup))
	default:
		p.line("%s is signed up for %s.", who, ride)
	}
	if len(signup.GetStandings()) > 0 {
		p.para(0, "The bike stands: %s.", standingsWords(signup.GetStandings(), true))
		p.line("")
		p.assessments(signup.GetStandings(), titles, false)
	}
}

// waitingWords says how many wait before someone who waits.
func waitingWords(signup *pb.Signup) string {
	switch before := signup.GetWaitingBefore(); before {
	case 0:
		return "the next that comes free is theirs"
	case 1:
		return "one waits before them"
	default:
		return fmt.Sprintf("%d wait before them", before)
	}
}

func (a *app) rideWithdraw() *cobra.Command {
	cmd := &cobra.Command{
		Use: "withdraw RIDE", Short: "Withdraw your sign-up; who has waited longest moves up",
		Example: "  gritward ride withdraw 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	member := cmd.Flags().String("member", "", "withdraw another member (the ride's leader, secretaries)")
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		who, err := s.memberName(*member)
		if err != nil {
			return err
		}
		answer, err := s.rides.WithdrawSignup(s.ctx, &pb.WithdrawSignupRequest{Name: ride + "/signups/" + names.Last(who)})
		if err != nil {
			return err
		}
		known, err := s.people()
		if err != nil {
			return err
		}
		stale, err := s.stale(ride)
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			p.line("%s has withdrawn from %s.", known.name(who), names.Last(ride))
			stale(p)
		})
	})
}

func (a *app) rideSignups() *cobra.Command {
	cmd := &cobra.Command{
		Use: "signups RIDE", Short: "Who has signed up, and where the bikes that you may know of stand in each group",
		Example: "  gritward ride signups 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		answer := &pb.ListSignupsResponse{}
		if answer.Signups, err = s.signups(ride); err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			var rows [][]string
			for i, signup := range answer.GetSignups() {
				rows = append(rows, []string{fmt.Sprint(i + 1), nameAndHost(signup), s.ref(signup.GetMember()),
					s.bikeRef(signup.GetBike()), signup.GetPreferredGroup(), signup.GetParty(), word(signup.GetState()),
					when(signup.GetCreatedAt(), zone), standingsWords(signup.GetStandings(), false)})
			}
			p.list("nobody has signed up yet",
				[]string{"", "name", "member", "bike", "wishes", "party", "state", "since", "stands"}, rows)
			layWhy(p, answer.GetSignups())
		})
	})
}

// nameAndHost is the name of who signed up, with that of whom a guest rides under.
func nameAndHost(signup *pb.Signup) string {
	if host := signup.GetGuestOf(); host != "" {
		return signup.GetDisplayName() + ", guest of " + host
	}
	return signup.GetDisplayName()
}
