package server

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// isOpen tells whether an invite can still be used.
func isOpen(tx *ledger.Tx, invite *pb.Invite) bool {
	return invite.AcceptedAt == nil && invite.WithdrawnAt == nil && !tx.Now.After(invite.ExpiresAt.AsTime())
}

// madeAt is when an invite was made. Those made before that was kept were all good for the same time.
func madeAt(invite *pb.Invite) time.Time {
	if invite.CreatedAt != nil {
		return invite.CreatedAt.AsTime()
	}
	return invite.ExpiresAt.AsTime().Add(-inviteGood)
}

// ListInvites implements ClubService.
func (s *clubService) ListInvites(ctx context.Context, request *pb.ListInvitesRequest) (*pb.ListInvitesResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	response := &pb.ListInvitesResponse{}
	err := s.view(ctx, who, func(tx *ledger.Tx) (err error) {
		var found []*pb.Invite
		err = tx.Invites(func(record *pb.InviteRecord) error {
			if request.All || isOpen(tx, record.Invite) {
				found = append(found, record.Invite)
			}
			return nil
		})
		if err != nil {
			return err
		}
		response.Invites, response.NextPageToken, err = pageOfInvites(found, request.PageToken, request.PageSize)
		return err
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// pageOfInvites cuts a page out of invites, newest first. A token is the place of the last one in that order, so that
// nothing is told twice or missed when others are made or used between two pages.
func pageOfInvites(invites []*pb.Invite, token string, asked int32) (page []*pb.Invite, next string, err error) {
	order := func(a, b *pb.Invite) int {
		return cmp.Or(madeAt(b).Compare(madeAt(a)), cmp.Compare(a.Name, b.Name))
	}
	slices.SortFunc(invites, order)
	if token != "" {
		at, id, cut := strings.Cut(token, "/")
		made, err := time.Parse(time.RFC3339Nano, at)
		if !cut || err != nil {
			return nil, "", badToken()
		}
		invites = slices.DeleteFunc(invites, func(one *pb.Invite) bool {
			return cmp.Or(made.Compare(madeAt(one)), cmp.Compare(names.Last(one.Name), id)) <= 0
		})
	}
	size := pageSize(asked)
	if len(invites) <= size {
		return invites, "", nil
	}
	last := invites[size-1]
	return invites[:size], madeAt(last).Format(time.RFC3339Nano) + "/" + names.Last(last.Name), nil
}

// WithdrawInvite implements ClubService.
func (s *clubService) WithdrawInvite(ctx context.Context, request *pb.WithdrawInviteRequest) (*pb.Invite, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "name", request.Name, names.InviteShape); err != nil {
		return nil, err
	}
	var found *pb.InviteRecord
	err := s.update(ctx, who, func(tx *ledger.Tx) error {
		found = nil
		err := tx.Invites(func(record *pb.InviteRecord) error {
			if record.Invite.Name == request.Name {
				found = record
			}
			return nil
		})
		switch {
		case err != nil:
			return err
		case found == nil:
			return fault.NotFound(request.Name)
		case found.Invite.AcceptedAt != nil:
			return fault.New(pb.Reason_WRONG_STATE, "the invite was used: %s came of it; suspend the member, or shut the device out",
				names.Last(found.Invite.AcceptedBy))
		case !isOpen(tx, found.Invite):
			return nil
		}
		found.Invite.WithdrawnAt = tx.Stamp()
		if err := tx.SaveInvite(found); err != nil {
			return err
		}
		return tx.Append(audit(who, "ClubService/WithdrawInvite", found.Invite.Name, "withdrew an invite"))
	})
	if err != nil {
		return nil, err
	}
	return found.Invite, nil
}

// withdrawInvitesOf withdraws every open invite that a member made, so that nobody comes in by the word of somebody who
// may not invite any more.
func withdrawInvitesOf(tx *ledger.Tx, member string) error {
	return withdrawOpen(tx, func(one *pb.Invite) bool { return one.CreatedBy == member })
}

// withdrawOpen withdraws those open invites that are meant.
func withdrawOpen(tx *ledger.Tx, meant func(*pb.Invite) bool) error {
	var open []*pb.InviteRecord
	err := tx.Invites(func(record *pb.InviteRecord) error {
		if isOpen(tx, record.Invite) && meant(record.Invite) {
			open = append(open, record)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, record := range open {
		record.Invite.WithdrawnAt = tx.Stamp()
		if err := tx.SaveInvite(record); err != nil {
			return err
		}
	}
	return nil
}
