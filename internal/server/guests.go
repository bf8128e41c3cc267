package server

import (
	"context"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// isGuest tells whether a member is a guest of a ride.
func isGuest(member *pb.Member) bool { return slices.Contains(member.Roles, pb.Role_GUEST) }

// mayInvite tells whether a member may invite: a secretary anybody, a leader guests.
func mayInvite(member *pb.Member) bool {
	return isSecretary(member) || slices.Contains(member.Roles, pb.Role_LEADER)
}

// mayKnow tells whether a caller may know of a ride: guests of their own only.
func mayKnow(who *caller, ride string) bool {
	return !isGuest(who.member) || who.member.Ride == names.Ride(who.club, ride)
}

// guestUntil is when a ride is over for its guests, unless it is closed sooner: the end of the day after it.
func guestUntil(ride *pb.Ride, zone *time.Location) time.Time {
	year, month, day := ride.StartAt.AsTime().In(zone).Date()
	return time.Date(year, month, day+2, 0, 0, 0, 0, zone)
}

// guestHere refuses a guest whose ride is over, and one without a ride, as there were before guests had one.
func guestHere(tx *ledger.Tx, member *pb.Member) error {
	if !isGuest(member) {
		return nil
	}
	over := fault.New(pb.Reason_NOT_ALLOWED, "you were a guest of a ride that is over; ask its leader, or a secretary of the club")
	if member.Ride == "" {
		return over
	}
	ride, err := tx.PeekRide(names.Last(member.Ride))
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return over
	}
	if err != nil {
		return err
	}
	_, zone, err := zoneOf(tx)
	if err != nil {
		return err
	}
	if ride.State == pb.Ride_CLOSED || ride.ClosedAt != nil || !tx.Now.Before(guestUntil(ride, zone)) {
		return over
	}
	return nil
}

// answersFor tells whether a member is a guest whom the caller answers for: one who rides under the caller's name, or on a
// ride that the caller leads.
func answersFor(tx *ledger.Tx, who *caller, id string) (bool, error) {
	member, err := tx.Member(id)
	if fault.Is(err, pb.Reason_NOT_FOUND) || err == nil && !isGuest(member) {
		return false, nil
	}
	if err != nil || member.Host == who.member.Name || !who.has(pb.Role_LEADER) {
		return err == nil && member.Host == who.member.Name, err
	}
	ride, err := tx.Ride(names.Last(member.Ride))
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return false, nil
	}
	return err == nil && ride.Leader == who.member.Name, err
}

// soundGuest holds an invite against what must be true of guests: a guest is invited to one ride, which is still to come, and
// is nothing else beside.
func soundGuest(tx *ledger.Tx, made *pb.Invite) error {
	if made.ForRide == "" {
		if slices.Contains(made.Roles, pb.Role_GUEST) {
			return fault.Invalid("invite.roles", "a guest is invited to one ride: name it with for_ride")
		}
		return nil
	}
	ids, err := names.In(tx.Club, "invite.for_ride", made.ForRide, names.RideShape)
	if err != nil {
		return err
	}
	if made.ForMember != "" {
		return fault.Invalid("invite.for_ride", "a member needs no invite to a ride: sign them up")
	}
	if len(made.Roles) > 0 && !slices.Equal(made.Roles, []pb.Role{pb.Role_GUEST}) {
		return fault.Invalid("invite.roles", "a guest of one ride has no other role")
	}
	ride, err := tx.Ride(ids[1])
	if err != nil {
		return err
	}
	if err := notOver(tx, ride); err != nil {
		return err
	}
	_, zone, err := zoneOf(tx)
	if err != nil {
		return err
	}
	until := tx.Now.Add(inviteGood)
	if end := guestUntil(ride, zone); end.Before(until) {
		until = end
	}
	made.Roles, made.ExpiresAt = []pb.Role{pb.Role_GUEST}, timestamppb.New(until)
	return nil
}

// AddGuest implements RideService.
func (s *rideService) AddGuest(ctx context.Context, request *pb.AddGuestRequest) (*pb.AddGuestResponse, error) {
	who := callerOf(ctx)
	ride, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	var answer *pb.AddGuestResponse
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "AddGuest", Message: request}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			answer, err = s.guestOf(tx, ride[1], names.Last(made))
			return err
		}
		if answer, err = s.addGuest(tx, who, ride[1], request); err != nil {
			return err
		}
		return tx.Answer(asked, answer.Signup.Name)
	})
	if err != nil {
		return nil, err
	}
	return answer, nil
}

// addGuest makes a guest with a bike and a sign-up, all certified by the caller.
func (s *rideService) addGuest(tx *ledger.Tx, who *caller, ride string, request *pb.AddGuestRequest) (*pb.AddGuestResponse, error) {
	name, err := soundName("display_name", request.DisplayName)
	if err != nil {
		return nil, err
	}
	note, err := s.guestNamesakes(tx, name)
	if err != nil {
		return nil, err
	}
	member, err := s.memberOf(tx, &pb.Invite{
		DisplayName: name, Roles: []pb.Role{pb.Role_GUEST}, CreatedBy: who.member.Name, ForRide: names.Ride(tx.Club, ride)})
	if err != nil {
		return nil, err
	}
	id := names.Last(member.Name)
	bike, err := certify(tx, who, id, &pb.DeclareBikeRequest{Facts: request.Facts})
	if err != nil {
		return nil, err
	}
	signup, _, err := s.enter(tx, who, ride, id, names.Last(bike.Name), &pb.Signup{PreferredGroup: request.PreferredGroup, Party: request.Party})
	if err != nil {
		return nil, err
	}
	if err := tx.Append(audit(who, "RideService/AddGuest", signup.Name, "signed a guest up, and certified the guest's bike")); err != nil {
		return nil, err
	}
	answer, err := s.guestOf(tx, ride, id)
	if err == nil {
		answer.Note = note
	}
	return answer, err
}

// guestOf tells of a guest of a ride, as signed up.
func (s *rideService) guestOf(tx *ledger.Tx, ride, id string) (answer *pb.AddGuestResponse, err error) {
	answer = &pb.AddGuestResponse{}
	signup, err := tx.Signup(ride, id)
	if err != nil {
		return nil, err
	}
	told, err := s.stood(tx, ride, signup)
	if err != nil {
		return nil, err
	}
	answer.Signup = told.standings()
	if answer.Member, err = tx.Member(id); err != nil {
		return nil, err
	}
	answer.Bike, err = tx.Bike(id, names.Last(answer.Signup.Bike))
	return answer, err
}
