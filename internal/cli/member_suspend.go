package cli

import (
	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) memberSuspend() *cobra.Command {
	cmd := &cobra.Command{
		Use: "suspend MEMBER", Short: "Shut a member out until reinstated",
		Long: "Refuses every call from any device of the member at once, and withdraws the member's sign-ups for rides to come, so\n" +
			"that who waits moves up, and the open invites that the member made. It lists what others must take over.\n" +
			"The last secretary cannot be suspended; make another member secretary first.",
		Example: "  gritward member suspend ida-holm", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.memberName(args[0])
		if err != nil {
			return err
		}
		answer, err := s.clubs.SuspendMember(s.ctx, &pb.SuspendMemberRequest{Name: name})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			member := answer.GetMember()
			p.line("%s is suspended. To let the member in again: gritward member reinstate %s", member.GetDisplayName(),
				s.ref(member.GetName()))
			for _, signup := range answer.GetWithdrawn() {
				p.line("Withdrawn from %s; a published roster says so in its next issue.", names.Part(signup, "rides"))
			}
			for _, ride := range answer.GetLeads() {
				p.line("! Nobody leads %s now: gritward ride change %s --leader MEMBER", names.Last(ride.GetName()), names.Last(ride.GetName()))
			}
			for _, guest := range answer.GetGuests() {
				p.line("! The guest %s rides under this member's name.", s.ref(guest))
			}
		})
	})
}

func (a *app) memberReinstate() *cobra.Command {
	cmd := &cobra.Command{
		Use: "reinstate MEMBER", Short: "End a member's suspension",
		Example: "  gritward member reinstate ida-holm", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.memberName(args[0])
		if err != nil {
			return err
		}
		answer, err := s.clubs.ReinstateMember(s.ctx, &pb.ReinstateMemberRequest{Name: name})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			p.line("%s is let in again, from every device as before. Sign-ups, rides to lead and invites do not come back.", answer.GetDisplayName())
		})
	})
}
