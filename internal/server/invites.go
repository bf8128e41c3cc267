package server

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// inviteGood is how long an invite can be used.
const inviteGood = 14 * 24 * time.Hour

// byServer stands for the server's own command line where a member's name would stand.
const byServer = "server"

// Found founds a club and invites its first secretary. The code is handed over once; only its hash is kept.
func Found(ctx context.Context, l *ledger.Ledger, id string, club *pb.Club, secretary string) (code string, err error) {
	err = l.Update(ctx, id, func(tx *ledger.Tx) error {
		if err := tx.Found(club); err != nil {
			return err
		}
		code, err = invite(tx, &pb.Invite{
			DisplayName: secretary, CreatedBy: byServer, Roles: []pb.Role{pb.Role_LEADER, pb.Role_SECRETARY}})
		if err != nil {
			return err
		}
		return tx.Append(&pb.AuditEntry{Actor: byServer, Method: "found", Resource: club.Name, What: "founded the club"})
	})
	return code, err
}

// Invite invites a secretary to a club that is there: the way back in when none is left who can sign in. Where a member has that name or
// id, the invite is for a further device of that member, who is given back and is a secretary from now on; else it makes a new one.
func Invite(ctx context.Context, l *ledger.Ledger, id, secretary string) (code string, known *pb.Member, err error) {
	err = l.Update(ctx, id, func(tx *ledger.Tx) error {
		club, err := tx.ClubRecord()
		if err != nil {
			return err
		}
		if known, err = memberCalled(tx, secretary); err != nil {
			return err
		}
		made, what := &pb.Invite{CreatedBy: byServer}, "invited a secretary"
		if known == nil {
			made.DisplayName, made.Roles = secretary, []pb.Role{pb.Role_LEADER, pb.Role_SECRETARY}
		} else {
			made.ForMember, what = known.Name, "invited a further device of a secretary"
			if !slices.Contains(known.Roles, pb.Role_SECRETARY) {
				known.Roles = append(known.Roles, pb.Role_SECRETARY)
				slices.Sort(known.Roles)
				what = "made a member a secretary, and invited a further device"
				if err = tx.SaveMember(known); err != nil {
					return err
				}
			}
		}
		if code, err = invite(tx, made); err != nil {
			return err
		}
		return tx.Append(&pb.AuditEntry{Actor: byServer, Method: "invite", Resource: cmp.Or(made.ForMember, club.Name), What: what})
	})
	return code, known, err
}

// memberCalled finds the member of a name or an id who can be let in; nil: there is none.
func memberCalled(tx *ledger.Tx, called string) (found *pb.Member, err error) {
	var all []*pb.Member
	add := func(one *pb.Member) error {
		if one.ErasedAt == nil && !isGuest(one) {
			all = append(all, one)
		}
		return nil
	}
	if one, err := tx.Member(called); err == nil {
		_ = add(one)
	} else if !fault.Is(err, pb.Reason_NOT_FOUND) {
		return nil, err
	}
	if len(all) == 0 {
		err = tx.MembersLike(called, func(one *pb.Member) error {
			if !sameName(one.DisplayName, called) {
				return nil
			}
			return add(one)
		})
	}
	switch {
	case err != nil || len(all) == 0:
		return nil, err
	case len(all) > 1:
		var ids []string
		for _, one := range all {
			ids = append(ids, names.Last(one.Name))
		}
		return nil, fault.New(pb.Reason_WRONG_STATE, "%d members are called %s: give the id of one, %s", len(all), called, phrase.Either(ids))
	case all[0].SuspendedAt != nil:
		return nil, fault.New(pb.Reason_WRONG_STATE, "%s is suspended: invite somebody else, who reinstates %[1]s", all[0].DisplayName)
	}
	return all[0], nil
}

// secret makes an unguessable word of 260 bits that carries its club, for tokens and invite codes.
func secret(club string) (word string, sum []byte) {
	word = club + "." + rand.Text() + rand.Text()
	hash := sha256.Sum256([]byte(word))
	return word, hash[:]
}

// invite writes a new invite and gives back its code.
func invite(tx *ledger.Tx, made *pb.Invite) (string, error) {
	code, sum := secret(tx.Club)
	made.Name = names.Invite(tx.Club, strings.ToLower(rand.Text()[:12]))
	made.CreatedAt = tx.Stamp()
	if made.ExpiresAt == nil {
		made.ExpiresAt = timestamppb.New(tx.Now.Add(inviteGood))
	}
	return code, tx.SaveInvite(&pb.InviteRecord{Invite: made, CodeSha256: sum})
}

// CreateInvite implements ClubService.
func (s *clubService) CreateInvite(ctx context.Context, request *pb.CreateInviteRequest) (*pb.Invite, error) {
	if _, err := names.In(callerOf(ctx).club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	who := callerOf(ctx)
	if strings.TrimSpace(request.Invite.DisplayName) == "" && request.Invite.ForMember == "" {
		return nil, fault.Invalid("invite.display_name", "is needed, or for_member when it is for a further device of a member")
	}
	var made *pb.Invite
	var code, note string
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "CreateInvite", Message: request}
	err := s.update(ctx, who, func(tx *ledger.Tx) (err error) {
		made, code, note = &pb.Invite{
			DisplayName: request.Invite.DisplayName, Roles: request.Invite.Roles,
			ForMember: request.Invite.ForMember, ForRide: request.Invite.ForRide, CreatedBy: who.member.Name,
		}, "", ""
		if again, err := tx.Answered(asked); err != nil || again != "" {
			return inviteAgain(tx, again, made, err)
		}
		if err := soundGuest(tx, made); err != nil {
			return err
		}
		if made.ForMember == "" {
			if made.DisplayName, err = soundName("invite.display_name", made.DisplayName); err != nil {
				return err
			}
			if note, err = s.namesakes(tx, made.DisplayName); err != nil {
				return err
			}
		}
		if made.ForMember != "" {
			ids, err := names.In(tx.Club, "invite.for_member", made.ForMember, names.MemberShape)
			if err != nil {
				return err
			}
			if _, err := present(tx, ids[1]); err != nil {
				return err
			}
		}
		if code, err = invite(tx, made); err != nil {
			return err
		}
		return errors.Join(tx.Append(audit(who, "ClubService/CreateInvite", made.Name, "invited someone")), tx.Answer(asked, made.Name))
	})
	if err != nil {
		return nil, err
	}
	shown := proto.Clone(made).(*pb.Invite)
	shown.Code, shown.Note = code, note
	if s.entrance.Invite != nil && code != "" {
		shown.Handover = s.entrance.Invite(code)
	}
	return shown, nil
}

// inviteAgain fills in an invite that was made by the same request before. Its code is kept as a hash only.
func inviteAgain(tx *ledger.Tx, name string, into *pb.Invite, err error) error {
	if err != nil {
		return err
	}
	return tx.Invites(func(record *pb.InviteRecord) error {
		if record.Invite.Name == name {
			proto.Reset(into)
			proto.Merge(into, record.Invite)
		}
		return nil
	})
}

// AcceptInvite implements ClubService.
func (s *clubService) AcceptInvite(ctx context.Context, request *pb.AcceptInviteRequest) (*pb.AcceptInviteResponse, error) {
	notGood := fault.New(pb.Reason_INVITE_NOT_GOOD, "the invite is used up, expired, withdrawn or unknown; ask a secretary for a new one")
	club, _, dotted := strings.Cut(request.Code, ".")
	if !dotted || !names.ValidClub(club) {
		return nil, notGood
	}
	response := &pb.AcceptInviteResponse{}
	err := s.ledger.Update(ctx, club, func(tx *ledger.Tx) error {
		record, err := tx.InviteByCode(request.Code)
		if err != nil {
			return err
		}
		if record == nil || !isOpen(tx, record.Invite) {
			return notGood
		}
		if response.Member, err = s.memberOf(tx, record.Invite); err != nil {
			return err
		}
		if response.Member.SuspendedAt != nil || guestHere(tx, response.Member) != nil {
			return notGood
		}
		token, sum := secret(club)
		response.Token = token
		response.Device = &pb.Device{
			Name:  names.Device(club, names.Last(response.Member.Name), strings.ToLower(rand.Text()[:12])),
			Title: request.DeviceTitle, CreatedAt: tx.Stamp(),
		}
		if response.Device.LastUsedOn, err = dayOf(tx); err != nil {
			return err
		}
		if err := tx.SaveDevice(&pb.DeviceRecord{Device: response.Device, TokenSha256: sum}); err != nil {
			return err
		}
		record.Invite.AcceptedAt, record.Invite.AcceptedBy = tx.Stamp(), response.Member.Name
		if err := tx.SaveInvite(record); err != nil {
			return err
		}
		who := &caller{club: club, member: response.Member, device: response.Device}
		return tx.Append(audit(who, "ClubService/AcceptInvite", response.Member.Name, "accepted an invite"))
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// memberOf gives the member an invite is for: the one named, or a new one.
func (d *desk) memberOf(tx *ledger.Tx, made *pb.Invite) (*pb.Member, error) {
	if made.ForMember != "" {
		return present(tx, names.Last(made.ForMember))
	}
	id := d.memberID()
	for _, err := tx.Member(id); !fault.Is(err, pb.Reason_NOT_FOUND); _, err = tx.Member(id) {
		if err != nil {
			return nil, err
		}
		id = d.memberID() // taken
	}
	roles := slices.Clone(made.Roles)
	if !slices.Contains(roles, pb.Role_GUEST) {
		roles = append(roles, pb.Role_MEMBER)
	}
	slices.Sort(roles)
	member := &pb.Member{
		Name: names.Member(tx.Club, id), DisplayName: made.DisplayName,
		Roles: slices.Compact(roles), JoinedAt: tx.Stamp(),
	}
	if isGuest(member) {
		member.Host, member.Ride = made.CreatedBy, made.ForRide
	}
	return member, tx.SaveMember(member)
}
