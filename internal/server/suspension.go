package server

import (
	"context"
	"slices"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// SuspendMember implements ClubService.
func (s *clubService) SuspendMember(ctx context.Context, request *pb.SuspendMemberRequest) (*pb.SuspendMemberResponse, error) {
	answer := &pb.SuspendMemberResponse{}
	err := s.ofMember(ctx, request.Name, request.Etag, func(tx *ledger.Tx, who *caller, member *pb.Member) error {
		answer.Reset()
		answer.Member = member
		if member.SuspendedAt == nil {
			if err := s.suspend(tx, who, member, answer); err != nil {
				return err
			}
		}
		return s.left(tx, member, answer)
	})
	if err != nil {
		return nil, err
	}
	return answer, nil
}

// ReinstateMember implements ClubService.
func (s *clubService) ReinstateMember(ctx context.Context, request *pb.ReinstateMemberRequest) (member *pb.Member, err error) {
	err = s.ofMember(ctx, request.Name, request.Etag, func(tx *ledger.Tx, who *caller, found *pb.Member) error {
		if member = found; member.SuspendedAt == nil {
			return nil
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

// ofMember runs a use case about a member, who is as the caller read the record.
func (s *clubService) ofMember(ctx context.Context, name, etag string, use func(*ledger.Tx, *caller, *pb.Member) error) error {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", name, names.MemberShape)
	if err != nil {
		return err
	}
	return s.update(ctx, who, func(tx *ledger.Tx) error {
		member, err := present(tx, ids[1])
		if err != nil {
			return err
		}
		if err := ledger.Unchanged(etag, member, member.Name); err != nil {
			return err
		}
		return use(tx, who, member)
	})
}

// suspend suspends a member who is not yet, and withdraws the member's sign-ups for rides to come and open invites.
func (d *desk) suspend(tx *ledger.Tx, who *caller, member *pb.Member, answer *pb.SuspendMemberResponse) error {
	if isSecretary(member) {
		if err := secretaryRemains(tx, member); err != nil {
			return err
		}
	}
	if err := withdrawInvitesOf(tx, member.Name); err != nil {
		return err
	}
	err := d.toCome(tx, func(ride *pb.Ride) error {
		signup, err := tx.FindSignup(names.Last(ride.Name), names.Last(member.Name))
		if err != nil || signup == nil || signup.State == pb.Signup_WITHDRAWN {
			return err
		}
		answer.Withdrawn = append(answer.Withdrawn, signup.Name)
		if err := d.takeOut(tx, ride, signup); err != nil {
			return err
		}
		// who watches the ride is not told why: the entry of SuspendMember has the cause
		return tx.Append(audit(who, "RideService/WithdrawSignup", signup.Name, "withdrew"))
	})
	if err != nil {
		return err
	}
	member.SuspendedAt = tx.Stamp()
	if err := tx.SaveMember(member); err != nil {
		return err
	}
	return tx.Append(audit(who, "ClubService/SuspendMember", member.Name, "suspended"))
}

// left tells what a suspended member leaves to others: rides to lead, and guests.
func (d *desk) left(tx *ledger.Tx, member *pb.Member, answer *pb.SuspendMemberResponse) error {
	coming := map[string]bool{}
	err := d.toCome(tx, func(ride *pb.Ride) error {
		coming[ride.Name] = true
		if ride.Leader == member.Name {
			answer.Leads = append(answer.Leads, ride)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return tx.Wards(names.Last(member.Name), func(one *pb.Member) error {
		if isGuest(one) && one.Host == member.Name && coming[one.Ride] {
			answer.Guests = append(answer.Guests, one.Name)
		}
		return nil
	})
}

// toCome visits the rides that may still change, since nobody has set off, latest first.
func (d *desk) toCome(tx *ledger.Tx, visit func(*pb.Ride) error) error {
	var coming []*pb.Ride
	err := tx.RidesStarting(tx.Now.Add(-unmarked), time.Time{}, func(ride *pb.Ride) error {
		err := d.notUnderWay(tx, ride)
		if fault.Is(err, pb.Reason_RIDE_OVER) {
			return nil
		}
		coming = append(coming, ride)
		return err
	})
	for _, ride := range coming { // not while the store is being read
		if err == nil {
			err = visit(ride)
		}
	}
	return err
}

// isSecretary tells whether a member has the role, suspended or not.
func isSecretary(member *pb.Member) bool { return slices.Contains(member.Roles, pb.Role_SECRETARY) }

// secretaryRemains refuses what would leave the club without a secretary who is not suspended. A secretary who is
// suspended already is no loss.
func secretaryRemains(tx *ledger.Tx, leaving *pb.Member) error {
	remains := leaving.SuspendedAt != nil
	err := tx.MembersWith(pb.Role_SECRETARY, func(member *pb.Member) error {
		remains = remains || member.Name != leaving.Name && member.SuspendedAt == nil && isSecretary(member)
		return nil
	})
	if err == nil && !remains {
		err = fault.New(pb.Reason_LAST_SECRETARY, "%s is the club's last secretary who can act; make another member secretary first",
			leaving.DisplayName)
	}
	return err
}
