package server

import (
	"cmp"
	"context"
	"slices"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// PinRider implements RideService.
func (s *rideService) PinRider(ctx context.Context, request *pb.PinRiderRequest) (signup *pb.Signup, err error) {
	who := callerOf(ctx)
	ride, member, err := pinned(who, request.Parent, request.Member)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		in, err := s.inputOf(tx, ride)
		if err != nil {
			return err
		}
		if err := offered("group", in.Ride, request.Group); err != nil {
			return err
		}
		if signup, err = tx.Signup(ride, member); err != nil {
			return err
		}
		sets, err := roster.PinRider(ctx, *in, roster.Asked{
			Member: signup.Member, Group: request.Group, Reason: request.OverrideReason, By: who.member.Name,
			HeldBikeRides: request.HeldBikeRides})
		if err != nil {
			return err
		}
		signup.Pin = &pb.Pin{Group: request.Group, Reason: request.Reason, By: who.member.Name, At: tx.Stamp(), Overrides: sets}
		return s.savePin(tx, who, signup, "PinRider", "fixed in "+request.Group)
	})
	return signup, err
}

// UnpinRider implements RideService.
func (s *rideService) UnpinRider(ctx context.Context, request *pb.UnpinRiderRequest) (signup *pb.Signup, err error) {
	who := callerOf(ctx)
	id, member, err := pinned(who, request.Parent, request.Member)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(id)
		if err != nil {
			return err
		}
		if err := s.notUnderWay(tx, ride); err != nil {
			return err
		}
		if signup, err = tx.Signup(id, member); err != nil {
			return err
		}
		if signup.Pin == nil {
			return fault.New(pb.Reason_WRONG_STATE, "%s is not fixed in a group", signup.Name)
		}
		was := signup.Pin.Group
		signup.Pin = nil
		return s.savePin(tx, who, signup, "UnpinRider", "no longer fixed in "+was)
	})
	return signup, err
}

// pinned reads the names of a ride and a member.
func pinned(who *caller, parent, name string) (ride, member string, err error) {
	rides, err := names.In(who.club, "parent", parent, names.RideShape)
	if err != nil {
		return "", "", err
	}
	members, err := names.In(who.club, "member", name, names.MemberShape)
	if err != nil {
		return "", "", err
	}
	return rides[1], members[1], nil
}

// savePin writes a sign-up with or without its pin. What is said of it goes to everybody who watches the ride, so that it is
// silent about rules set aside; the pin tells those who may know.
func (s *rideService) savePin(tx *ledger.Tx, who *caller, signup *pb.Signup, method, what string) error {
	if err := tx.SaveSignup(signup); err != nil {
		return err
	}
	member, err := tx.Member(names.Last(signup.Member))
	if err != nil {
		return err
	}
	signup.DisplayName = member.DisplayName
	return tx.Append(audit(who, "RideService/"+method, signup.Name, what))
}

// PinGroup implements RideService.
func (s *rideService) PinGroup(ctx context.Context, request *pb.PinGroupRequest) (ride *pb.Ride, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		in, err := s.inputOf(tx, ids[1])
		if err != nil {
			return err
		}
		ride = in.Ride
		if err := offered("group", ride, request.Group); err != nil {
			return err
		}
		sets, err := roster.PinGroup(ctx, *in, roster.Asked{
			Group: request.Group, Runs: request.Runs, Reason: request.OverrideReason, By: who.member.Name})
		if err != nil {
			return err
		}
		ride.GroupPins = append(withoutPin(ride, request.Group), &pb.GroupPin{Group: request.Group, Runs: request.Runs,
			Reason: request.Reason, By: who.member.Name, At: tx.Stamp(), Overrides: sets})
		what := map[bool]string{true: "fixed that " + request.Group + " runs", false: "fixed that " + request.Group + " does not run"}[request.Runs]
		return saveRide(tx, who, ride, "PinGroup", what)
	})
	return ride, err
}

// UnpinGroup implements RideService.
func (s *rideService) UnpinGroup(ctx context.Context, request *pb.UnpinGroupRequest) (ride *pb.Ride, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = tx.Ride(ids[1]); err != nil {
			return err
		}
		if err := s.notUnderWay(tx, ride); err != nil {
			return err
		}
		left := withoutPin(ride, request.Group)
		if len(left) == len(ride.GroupPins) {
			return fault.New(pb.Reason_WRONG_STATE, "nothing is fixed of the group %s", request.Group)
		}
		ride.GroupPins = left
		return saveRide(tx, who, ride, "UnpinGroup", "no longer fixed: "+request.Group)
	})
	return ride, err
}

// withoutPin lists a ride's group pins but those of one group.
func withoutPin(ride *pb.Ride, group string) []*pb.GroupPin {
	return slices.DeleteFunc(slices.Clone(ride.GroupPins), func(pin *pb.GroupPin) bool { return pin.Group == group })
}

func saveRide(tx *ledger.Tx, who *caller, ride *pb.Ride, method, what string) error {
	if err := tx.SaveRide(ride); err != nil {
		return err
	}
	return tx.Append(audit(who, "RideService/"+method, ride.Name, what))
}

// ExplainPlace implements RideService.
func (s *rideService) ExplainPlace(ctx context.Context, request *pb.ExplainPlaceRequest) (said *pb.Explanation, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.SignupShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if said, err = s.explain(ctx, tx, ids[1], ids[2]); err != nil {
			return err
		}
		s.madeAhead.asked(tx, "place of "+ids[2]+" in "+ids[1], func(ctx context.Context, tx *ledger.Tx) error {
			_, err := s.explain(ctx, tx, ids[1], ids[2])
			return err
		})
		return nil
	})
	return said, err
}

// explain tells why a member has the place on a ride. It is shared: do not change it.
func (s *rideService) explain(ctx context.Context, tx *ledger.Tx, ride, member string) (*pb.Explanation, error) {
	g, err := s.changing(tx, ride)
	if err != nil {
		return nil, err
	}
	key, err := s.placingKey(tx, g)
	if err != nil {
		return nil, err
	}
	name := names.Member(tx.Club, member)
	return s.explained.get(key+" "+name, func() (*pb.Explanation, error) {
		in, err := s.input(tx, g)
		if err != nil {
			return nil, err
		}
		said, err := roster.Explain(ctx, *in, name)
		return said, cmp.Or(err, ctx.Err()) // what was given up is not kept
	})
}
