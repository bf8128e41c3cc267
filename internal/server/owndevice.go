package server

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// ownDeviceGood is how long a member's own invite for a further device can be used: as long as it takes to walk over to it.
const ownDeviceGood = time.Hour

// InviteDevice implements ClubService.
func (s *clubService) InviteDevice(ctx context.Context, request *pb.InviteDeviceRequest) (*pb.Invite, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.MemberShape); err != nil {
		return nil, err
	}
	made, code := &pb.Invite{ForMember: who.member.Name, CreatedBy: who.member.Name}, ""
	err := s.update(ctx, who, func(tx *ledger.Tx) (err error) {
		if err := withdrawOwnDevices(tx, who.member.Name); err != nil {
			return err
		}
		made.ExpiresAt = timestamppb.New(tx.Now.Add(ownDeviceGood))
		if code, err = invite(tx, made); err != nil {
			return err
		}
		return tx.Append(audit(who, "ClubService/InviteDevice", made.Name, "invited a further device"))
	})
	if err != nil {
		return nil, err
	}
	shown := proto.CloneOf(made)
	shown.Code = code
	if s.entrance.Invite != nil {
		shown.Handover = s.entrance.Invite(code)
	}
	return shown, nil
}

// withdrawOwnDevices withdraws the open invites that a member made for further devices of the member: whoever has a device
// in hand that is shut out may have made one on it.
func withdrawOwnDevices(tx *ledger.Tx, member string) error {
	return withdrawOpen(tx, func(one *pb.Invite) bool { return one.CreatedBy == member && one.ForMember == member })
}
