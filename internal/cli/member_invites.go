package cli

import (
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) memberInvites() *cobra.Command {
	cmd := &cobra.Command{
		Use: "invites", Short: "Invites that are still good",
		Long:    "Shows who is invited and has not come yet, newest first. The codes are not kept, and so not shown.",
		Example: "  gritward member invites\n  gritward member invites --all", Args: cobra.NoArgs,
	}
	all := cmd.Flags().Bool("all", false, "those used, expired and withdrawn too")
	return a.online(cmd, func(s *session, _ []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		invites, err := allPages(func(token string) ([]*pb.Invite, string, error) {
			answer, err := s.clubs.ListInvites(s.ctx, &pb.ListInvitesRequest{
				Parent: s.clubName(), All: *all, PageSize: pageSize, PageToken: token})
			return answer.GetInvites(), answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		who, err := s.people()
		if err != nil {
			return err
		}
		return a.answer(&pb.ListInvitesResponse{Invites: invites}, func(p *page) {
			var rows [][]string
			for _, invite := range invites {
				name := invite.GetDisplayName()
				if invite.GetForMember() != "" {
					name = "a further device of " + who.name(invite.GetForMember())
				}
				if invite.GetForRide() != "" {
					name += ", for " + names.Last(invite.GetForRide())
				}
				rows = append(rows, []string{names.Last(invite.GetName()), name, words(invite.GetRoles()),
					who.name(invite.GetCreatedBy()), s.inviteState(invite, zone)})
			}
			p.list("no invites", []string{"invite", "for", "roles", "made by", "state"}, rows)
		})
	})
}

// inviteState says what has become of an invite.
func (s *session) inviteState(invite *pb.Invite, zone *time.Location) string {
	switch {
	case invite.GetAcceptedAt() != nil:
		return "used " + day(invite.GetAcceptedAt(), zone) + " by " + s.ref(invite.GetAcceptedBy())
	case invite.GetWithdrawnAt() != nil:
		return "withdrawn " + day(invite.GetWithdrawnAt(), zone)
	case s.now().After(invite.GetExpiresAt().AsTime()):
		return "expired " + day(invite.GetExpiresAt(), zone)
	}
	return "good until " + day(invite.GetExpiresAt(), zone)
}

func (a *app) memberWithdraw() *cobra.Command {
	cmd := &cobra.Command{
		Use: "withdraw INVITE", Short: "Withdraw an invite; its code is no longer good",
		Long:    "INVITE is the id that gritward member invites shows, not the code.",
		Example: "  gritward member withdraw xqg4wpzaeqgr", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		if !names.ValidID(args[0]) {
			return usagef("%q is not the id of an invite; gritward member invites shows them", args[0])
		}
		answer, err := s.clubs.WithdrawInvite(s.ctx, &pb.WithdrawInviteRequest{Name: names.Invite(s.set.Club(), args[0])})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			if answer.GetWithdrawnAt() == nil {
				p.line("The invite %s had expired already; its code is not good.", args[0])
				return
			}
			p.line("The invite %s is withdrawn; its code is not good any more.", args[0])
		})
	})
}
