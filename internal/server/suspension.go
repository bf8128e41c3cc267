package server

import (
	"context"
	"slices"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// SuspendMember implements ClubService.
func (s *clubService) SuspendMember(ctx context.Context, request *pb.SuspendMemberRequest) (*pb.Member, error) {
	return s.setSuspended(ctx, request.Name, request.Etag, true)
}

// ReinstateMember implements ClubService.
func (s *clubService) ReinstateMember(ctx context.Context, request *pb.ReinstateMemberRequest) (*pb.Member, error) {
	return s.setSuspended(ctx, request.Name, request.Etag, false)
}

// setSuspended suspends a member, or ends the suspension. Nothing is written where it is so already.
func (s *clubService) setSuspended(ctx context.Context, name, etag string, suspended bool) (*pb.Member, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", name, names.MemberShape)
	if err != nil {
		return nil, err
	}
	var member *pb.Member
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if member, err = present(tx, ids[1]); err != nil {
			return err
		}
		if err := ledger.Unchanged(etag, member, member.Name); err != nil {
			return err
		}
		if suspended == (member.SuspendedAt != nil) {
			return nil
		}
		if suspended {
			return suspend(tx, who, member)
		}
		member.SuspendedAt = nil
		if err := tx.SaveMember(member); err != nil {
			return err
		}
		return tx.Append(audit(who, "ClubService/ReinstateMember", member.Name, "ended the suspension"))
	})
	if err != nil {
		return nil, err
	}
	return member, nil
}

// suspend suspends a member who is not yet, and withdraws the open invites that the member made.
func suspend(tx *ledger.Tx, who *caller, member *pb.Member) error {
	if isSecretary(member) {
		if err := secretaryRemains(tx, member); err != nil {
			return err
		}
	}
	if err := withdrawInvitesOf(tx, member.Name); err != nil {
		return err
	}
	member.SuspendedAt = tx.Stamp()
	if err := tx.SaveMember(member); err != nil {
		return err
	}
	return tx.Append(audit(who, "ClubService/SuspendMember", member.Name, "suspended"))
}

// isSecretary tells whether a member has the role, suspended or not.
func isSecretary(member *pb.Member) bool { return slices.Contains(member.Roles, pb.Role_SECRETARY) }

// secretaryRemains refuses what would leave the club without a secretary who is not suspended. A secretary who is
// suspended already is no loss.
func secretaryRemains(tx *ledger.Tx, leaving *pb.Member) error {
	remains := leaving.SuspendedAt != nil
	err := tx.Members("", 0, func(member *pb.Member) error {
		remains = remains || member.Name != leaving.Name && member.SuspendedAt == nil && isSecretary(member)
		return nil
	})
	if err == nil && !remains {
		err = fault.New(pb.Reason_LAST_SECRETARY, "%s is the club's last secretary who can act; make another member secretary first",
			leaving.DisplayName)
	}
	return err
}
