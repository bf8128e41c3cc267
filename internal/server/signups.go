package server

import (
	"context"
	"slices"
	"strings"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// JoinRide implements RideService.
func (s *rideService) JoinRide(ctx context.Context, request *pb.JoinRideRequest) (*pb.Signup, error) {
	who := callerOf(ctx)
	ride, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	asked := request.Signup
	member, err := names.In(who.club, "signup.member", asked.Member, names.MemberShape)
	if err != nil {
		return nil, err
	}
	bike, err := names.In(who.club, "signup.bike", asked.Bike, names.BikeShape)
	if err != nil {
		return nil, err
	}
	if bike[1] != member[1] {
		return nil, fault.Invalid("signup.bike", "is a bike of %s; a member rides a bike of their own", bike[1])
	}
	var signup *pb.Signup
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		signup, err = s.join(tx, who, ride[1], member[1], bike[2], asked)
		return err
	})
	if err != nil {
		return nil, err
	}
	return signup, nil
}

// join writes a sign-up, new or changed, and tells its standings.
func (s *rideService) join(tx *ledger.Tx, who *caller, ride, member, bike string, asked *pb.Signup) (*pb.Signup, error) {
	g, err := s.ground(tx, ride)
	if err != nil {
		return nil, err
	}
	if err := openForSignup(tx, g.ride); err != nil {
		return nil, err
	}
	ridden, err := tx.Bike(member, bike)
	if err != nil {
		return nil, err
	}
	if ridden.RetiredAt != nil {
		return nil, fault.New(pb.Reason_WRONG_STATE, "%s is retired; sign up with another bike", ridden.Name)
	}
	if err := offered("signup.preferred_group", g.ride, asked.PreferredGroup); err != nil {
		return nil, err
	}
	signup, err := tx.FindSignup(ride, member)
	if err != nil {
		return nil, err
	}
	if signup == nil || signup.State == pb.Signup_WITHDRAWN {
		if signup, err = fresh(tx, g.ride, member); err != nil {
			return nil, err
		}
	} else if err := ledger.Unchanged(asked.Etag, signup, signup.Name); err != nil {
		return nil, err
	}
	if pin := signup.Pin; pin != nil && signup.Bike != ridden.Name { // its rules were set aside for the other bike
		pin.Overrides = slices.DeleteFunc(pin.Overrides, func(set *pb.Override) bool { return set.Rule != "" })
	}
	signup.Member, signup.Bike = names.Member(tx.Club, member), ridden.Name
	signup.PreferredGroup, signup.Party = asked.PreferredGroup, strings.TrimSpace(asked.Party)
	signup.WillLead, signup.WillMarkBack = asked.WillLead, asked.WillMarkBack
	if err := tx.SaveSignup(signup); err != nil {
		return nil, err
	}
	if err := tx.Append(audit(who, "RideService/JoinRide", signup.Name, "signed up")); err != nil {
		return nil, err
	}
	rider, err := tx.Member(member)
	if err != nil {
		return nil, err
	}
	signup.DisplayName = rider.DisplayName
	subject, err := subjectOf(tx, ridden)
	signup.Standings = roster.Standings(g.policy.Book(), subject, g.plan, g.now)
	return signup, err
}

// maxSignups is how many can sign up for one ride, those who wait included.
const maxSignups = 1000

// fresh makes a new sign-up: with a place, or waiting when all are taken.
func fresh(tx *ledger.Tx, ride *pb.Ride, member string) (*pb.Signup, error) {
	taken, waiting := 0, 0
	err := tx.Signups(names.Last(ride.Name), func(signup *pb.Signup) error {
		switch signup.State {
		case pb.Signup_IN:
			taken++
		case pb.Signup_WAITING:
			waiting++
		}
		return nil
	})
	if err == nil && taken+waiting >= maxSignups {
		err = fault.New(pb.Reason_WRONG_STATE, "the ride is full: %d have signed up", maxSignups)
	}
	state := pb.Signup_IN
	if ride.Places > 0 && taken+waiting >= int(ride.Places) {
		state = pb.Signup_WAITING
	}
	return &pb.Signup{Name: ride.Name + "/signups/" + member, State: state, CreatedAt: tx.Stamp()}, err
}

// openForSignup refuses a sign-up for a ride that is over or closed for sign-up.
func openForSignup(tx *ledger.Tx, ride *pb.Ride) error {
	if err := notOver(tx, ride); err != nil {
		return err
	}
	if closes := ride.SignupClosesAt; closes != nil && !tx.Now.Before(closes.AsTime()) {
		return fault.New(pb.Reason_RIDE_OVER, "sign-up for the ride has closed; ask its leader")
	}
	return nil
}

// offered refuses a group that the ride does not have.
func offered(path string, ride *pb.Ride, group string) error {
	var ids []string
	for _, g := range ride.Groups {
		ids = append(ids, g.Id)
	}
	if group == "" || slices.Contains(ids, group) {
		return nil
	}
	return fault.Invalid(path, "there is no group %q; there is %s", group, strings.Join(ids, ", "))
}

// WithdrawSignup implements RideService.
func (s *rideService) WithdrawSignup(ctx context.Context, request *pb.WithdrawSignupRequest) (signup *pb.Signup, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.SignupShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		if err := notOver(tx, ride); err != nil {
			return err
		}
		if signup, err = tx.Signup(ids[1], ids[2]); err != nil {
			return err
		}
		if err := ledger.Unchanged(request.Etag, signup, signup.Name); err != nil {
			return err
		}
		had := signup.State == pb.Signup_IN
		signup.State = pb.Signup_WITHDRAWN
		if err := tx.SaveSignup(signup); err != nil {
			return err
		}
		if had {
			if err := fill(tx, ride); err != nil {
				return err
			}
		}
		return tx.Append(audit(who, "RideService/WithdrawSignup", signup.Name, "withdrew"))
	})
	return signup, err
}

// fill gives the places that are free to those who have waited longest.
func fill(tx *ledger.Tx, ride *pb.Ride) error {
	all, err := signupsOf(tx, names.Last(ride.Name))
	if err != nil {
		return err
	}
	free := len(all)
	if ride.Places > 0 {
		free = int(ride.Places)
	}
	for _, signup := range all {
		if signup.State == pb.Signup_IN {
			free--
		}
	}
	for _, signup := range all {
		if signup.State != pb.Signup_WAITING || free <= 0 {
			continue
		}
		signup.State = pb.Signup_IN
		if err := tx.SaveSignup(signup); err != nil {
			return err
		}
		free--
	}
	return nil
}
