package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) member() *cobra.Command {
	group := &cobra.Command{
		Use: "member", Short: "Members, their roles, invites and devices",
		Example: "  gritward member list\n  gritward member invite \"Ida Holm\" --role leader",
	}
	group.AddCommand(a.memberList(), a.memberShow(), a.memberChange(), a.memberSuspend(), a.memberReinstate(), a.memberErase(),
		a.memberInvite(), a.memberInvites(), a.memberWithdraw(), a.memberDevice())
	return a.asGroup(group)
}

func (a *app) memberList() *cobra.Command {
	cmd := &cobra.Command{
		Use: "list", Short: "The members of the club",
		Example: "  gritward member list", Args: cobra.NoArgs,
	}
	return a.online(cmd, func(s *session, _ []string) error {
		members, err := s.allMembers()
		if err != nil {
			return err
		}
		return a.answer(&pb.ListMembersResponse{Members: members}, func(p *page) {
			var rows [][]string
			for _, member := range members {
				if member.GetErasedAt() != nil {
					continue
				}
				rows = append(rows, []string{s.ref(member.GetName()), member.GetDisplayName(), words(member.GetRoles()),
					paceBand(member), yes(member.GetMayLead()), yes(member.GetMayMarkBack()), s.remarks(member)})
			}
			p.list("no members", []string{"member", "name", "roles", "pace", "may lead", "may mark back", ""}, rows)
		})
	})
}

func paceBand(member *pb.Member) string {
	low, high := member.GetPaceMinKmh(), member.GetPaceMaxKmh()
	switch {
	case low == 0 && high == 0: // not stated
		return ""
	case low == 0:
		return "up to " + number(high) + " km/h"
	case high == 0:
		return "from " + number(low) + " km/h"
	}
	return number(low) + "-" + number(high) + " km/h"
}

func (s *session) remarks(member *pb.Member) string {
	var parts []string
	if member.GetJunior() {
		parts = append(parts, "junior with "+s.ref(member.GetGuardian()))
	}
	if member.GetRide() != "" {
		parts = append(parts, "guest of "+s.ref(member.GetHost())+" for "+names.Last(member.GetRide()))
	}
	if member.GetSuspendedAt() != nil {
		parts = append(parts, "suspended")
	}
	return strings.Join(parts, ", ")
}

func (a *app) memberShow() *cobra.Command {
	cmd := &cobra.Command{
		Use: "show [MEMBER]", Short: "A member; without a name yourself",
		Example: "  gritward member show\n  gritward member show ida-holm", Args: cobra.MaximumNArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		member := s.who.GetMember()
		if len(args) == 1 {
			if member, err = s.getMember(args[0]); err != nil {
				return err
			}
		}
		return a.answer(member, func(p *page) { s.layMember(p, member, zone) })
	})
}

func (s *session) getMember(ref string) (*pb.Member, error) {
	name, err := s.memberName(ref)
	if err != nil {
		return nil, err
	}
	return s.clubs.GetMember(s.ctx, &pb.GetMemberRequest{Name: name})
}

func (s *session) layMember(p *page, member *pb.Member, zone *time.Location) {
	p.fields(
		[2]string{"member", s.ref(member.GetName())},
		[2]string{"name", member.GetDisplayName()},
		[2]string{"roles", words(member.GetRoles())},
		[2]string{"pace", paceBand(member)},
		[2]string{"may lead", yes(member.GetMayLead())},
		[2]string{"may mark back", yes(member.GetMayMarkBack())},
		[2]string{"remarks", s.remarks(member)},
		[2]string{"e-mail", member.GetEmail()},
		[2]string{"rides ridden", fmt.Sprint(member.GetRidesRidden())},
		[2]string{"joined", day(member.GetJoinedAt(), zone)},
		[2]string{"suspended", day(member.GetSuspendedAt(), zone)},
	)
}
