package server

import (
	"context"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

type clubService struct {
	pb.UnsafeClubServiceServer
	*desk
	entrance Entrance
}

// GetClub implements ClubService.
func (s *clubService) GetClub(ctx context.Context, request *pb.GetClubRequest) (*pb.Club, error) {
	if _, err := names.In(callerOf(ctx).club, "name", request.Name, names.ClubShape); err != nil {
		return nil, err
	}
	return s.club(ctx, callerOf(ctx))
}

// club reads the club's record.
func (d *desk) club(ctx context.Context, who *caller) (club *pb.Club, err error) {
	err = d.view(ctx, who, func(tx *ledger.Tx) error {
		club, err = tx.ClubRecord()
		return err
	})
	return club, err
}

// WhoAmI implements ClubService.
func (s *clubService) WhoAmI(ctx context.Context, _ *pb.WhoAmIRequest) (*pb.WhoAmIResponse, error) {
	who := callerOf(ctx)
	club, err := s.club(ctx, who)
	response := &pb.WhoAmIResponse{Club: club, Member: who.member, Device: who.device,
		At: timestamppb.New(s.ledger.Now())}
	if s.entrance.Pins != nil {
		response.ServerPins = s.entrance.Pins()
	}
	return response, err
}

// GetMember implements ClubService.
func (s *clubService) GetMember(ctx context.Context, request *pb.GetMemberRequest) (member *pb.Member, err error) {
	ids, err := names.In(callerOf(ctx).club, "name", request.Name, names.MemberShape)
	if err != nil {
		return nil, err
	}
	who := callerOf(ctx)
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if member, err = tx.Member(ids[1]); err == nil {
			seenBy(who, member)
		}
		return err
	})
	return member, err
}

// ListMembers implements ClubService.
func (s *clubService) ListMembers(ctx context.Context, request *pb.ListMembersRequest) (*pb.ListMembersResponse, error) {
	if _, err := names.In(callerOf(ctx).club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	who, response := callerOf(ctx), &pb.ListMembersResponse{}
	err := s.view(ctx, who, func(tx *ledger.Tx) error {
		about := fmt.Sprintf("%s %d %s", who.club, request.PageSize, request.PageToken)
		read, err := s.members.get(tx, about, func() (*pb.ListMembersResponse, error) { return membersOf(tx, request) })
		for _, member := range read.GetMembers() {
			if !knowsAll(who, member) {
				member = shallow(member)
				seenBy(who, member)
			}
			response.Members = append(response.Members, member)
		}
		response.NextPageToken = read.GetNextPageToken()
		return err
	})
	return response, err
}

// membersOf reads a page of the members.
func membersOf(tx *ledger.Tx, request *pb.ListMembersRequest) (*pb.ListMembersResponse, error) {
	read, size := &pb.ListMembersResponse{}, pageSize(request.PageSize)
	err := tx.Members(request.PageToken, size+1, func(member *pb.Member) error {
		if len(read.Members) == size {
			read.NextPageToken = names.Last(read.Members[size-1].Name)
			return nil
		}
		read.Members = append(read.Members, member)
		return nil
	})
	return read, err
}

// seenBy leaves out of a member's record what the caller may not know: the e-mail address for all but the member and
// secretaries; that the member is a junior, and whose, for all but the member, the guardian, leaders and secretaries.
func seenBy(who *caller, member *pb.Member) {
	if knowsAll(who, member) {
		return
	}
	member.Email = ""
	if !who.has(pb.Role_LEADER) && !inCareOf(member, who.member.Name) {
		member.Junior, member.Guardian = false, ""
	}
}

// knowsAll tells whether nothing of a member's record is kept from the caller.
func knowsAll(who *caller, member *pb.Member) bool {
	return who.has(pb.Role_SECRETARY) || member.Name == who.member.Name
}

// What a member may change in their own record, and what a secretary may change besides in every record.
var (
	ownMemberFields       = []string{"display_name", "pace_min_kmh", "pace_max_kmh", "email", "name_public"}
	secretaryMemberFields = append(slices.Clone(ownMemberFields), "roles", "may_lead", "may_mark_back", "junior", "guardian")
)

// UpdateMember implements ClubService.
func (s *clubService) UpdateMember(ctx context.Context, request *pb.UpdateMemberRequest) (*pb.Member, error) {
	ids, err := names.In(callerOf(ctx).club, "member.name", request.Member.GetName(), names.MemberShape)
	if err != nil {
		return nil, err
	}
	who := callerOf(ctx)
	var member *pb.Member
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if member, err = present(tx, ids[1]); err != nil {
			return err
		}
		if err := ledger.Unchanged(request.Member.GetEtag(), member, member.Name); err != nil {
			return err
		}
		allowed := ownMemberFields
		if who.has(pb.Role_SECRETARY) {
			allowed = secretaryMemberFields
		}
		before := proto.Clone(member).(*pb.Member)
		if err := applyMask(member, request.Member, request.UpdateMask, allowed); err != nil {
			return err
		}
		if err := s.soundMember(tx, before, member); err != nil {
			return err
		}
		if before.DisplayName != member.DisplayName {
			if err := renamed(tx, who, member); err != nil {
				return err
			}
		}
		if mayInvite(before) && !mayInvite(member) || isSecretary(before) && !isSecretary(member) {
			if err := withdrawInvitesOf(tx, member.Name); err != nil {
				return err
			}
		}
		if err := tx.SaveMember(member); err != nil {
			return err
		}
		return tx.Append(audit(who, "ClubService/UpdateMember", member.Name, "changed "+joined(request.UpdateMask.Paths)))
	})
	return member, err
}

// soundMember holds a changed member against what must be true of members.
func (s *clubService) soundMember(tx *ledger.Tx, before, after *pb.Member) error {
	if before.DisplayName != after.DisplayName {
		var err error
		if after.DisplayName, err = soundName("member.display_name", after.DisplayName); err != nil {
			return err
		}
	}
	if err := checked(s.validator, "member.", after); err != nil {
		return err
	}
	if !slices.Contains(after.Roles, pb.Role_MEMBER) && !slices.Contains(after.Roles, pb.Role_GUEST) {
		after.Roles = append(after.Roles, pb.Role_MEMBER)
	}
	slices.Sort(after.Roles)
	switch {
	case isGuest(after) && !isGuest(before):
		return fault.Invalid("member.roles", "nobody is made a guest: a guest comes by an invite to one ride")
	case isGuest(after) && len(after.Roles) > 1:
		return fault.Invalid("member.roles", "a guest has no other role; to make the guest a member, give member and leave guest out")
	case !isGuest(after):
		after.Host, after.Ride = "", ""
	}
	if after.Junior && !before.Junior {
		if err := guardsNobody(tx, after.Name); err != nil {
			return err
		}
	}
	if after.Junior {
		if after.Guardian == "" {
			return fault.Invalid("member.guardian", "a junior needs a guardian: another member, who is an adult")
		}
		guardian, err := names.In(tx.Club, "member.guardian", after.Guardian, names.MemberShape)
		if err != nil {
			return err
		}
		adult, err := present(tx, guardian[1])
		if fault.Is(err, pb.Reason_NOT_FOUND) || err == nil && (adult.Junior || adult.Name == after.Name) {
			return fault.Invalid("member.guardian", "a junior needs a guardian: another member, who is an adult")
		}
		if err != nil {
			return err
		}
	}
	if isSecretary(before) && !isSecretary(after) {
		return secretaryRemains(tx, after)
	}
	return nil
}

// guardsNobody refuses to make a junior of somebody's guardian.
func guardsNobody(tx *ledger.Tx, name string) error {
	return tx.Wards(names.Last(name), func(member *pb.Member) error {
		if member.Junior && member.Guardian == name {
			return fault.Invalid("member.junior", "this member is the guardian of %s; give %s another first", member.DisplayName, member.DisplayName)
		}
		return nil
	})
}
