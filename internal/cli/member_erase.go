package cli

import (
	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) memberErase() *cobra.Command {
	cmd := &cobra.Command{
		Use: "erase MEMBER --name NAME", Short: "Erase everything about a member, for ever",
		Long: "Erases yourself, or as secretary another member: name, e-mail, devices, bikes with their care logs, emergency\n" +
			"contacts, sign-ups and invites. On rosters \"former member\" stands in the place, without the bike. It cannot be\n" +
			"undone. To confirm, type the name with --name as the club shows it. Prints and files that people have made stay.",
		Example: "  gritward member erase ida-holm --name \"Ida Holm\"", Args: cobra.ExactArgs(1),
	}
	typed := cmd.Flags().String("name", "", "the member's name as the club shows it, to confirm")
	needs(cmd, "name")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.memberName(args[0])
		if err != nil {
			return err
		}
		answer, err := pb.NewPersonalServiceClient(s.conn).EraseMember(s.ctx, &pb.EraseMemberRequest{Name: name, DisplayName: *typed})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			p.line("Erased. A former member stands on rosters now.")
			for _, ride := range answer.GetLeaderless() {
				p.line("! Ride %s needs another leader: gritward ride change %s --leader MEMBER", names.Last(ride), names.Last(ride))
			}
			for _, junior := range answer.GetUnguarded() {
				p.line("! %s needs another guardian: gritward member change %s --guardian MEMBER", s.ref(junior), s.ref(junior))
			}
		})
	})
}
