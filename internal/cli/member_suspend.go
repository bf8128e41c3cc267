package cli

import (
	"github.com/spf13/cobra"

	pb "gritward/proto/gritward/v1"
)

func (a *app) memberSuspend() *cobra.Command {
	cmd := &cobra.Command{
		Use: "suspend MEMBER", Short: "Shut a member out until reinstated",
		Long: "Refuses every call from any device of the member at once, and withdraws the open invites that the member made.\n" +
			"Devices, bikes and sign-ups stay: look at the rides that the member has signed up for or leads.\n" +
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
			p.line("%s is suspended. To let the member in again: gritward member reinstate %s", answer.GetDisplayName(),
				s.ref(answer.GetName()))
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
		return a.answer(answer, func(p *page) { p.line("%s is let in again, from every device as before.", answer.GetDisplayName()) })
	})
}
