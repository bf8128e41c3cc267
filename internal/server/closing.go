package server

import (
	"context"
	"strings"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// CloseRide implements RollCallService.
func (s *rollCallService) CloseRide(ctx context.Context, request *pb.CloseRideRequest) (ride *pb.Ride, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = tx.Ride(ids[1]); err != nil {
			return err
		}
		if err := begun(tx, ride); err != nil {
			return err
		}
		open, err := unaccounted(tx, ids[1])
		if err != nil {
			return err
		}
		if err := mayClose(tx, who, open, request.Reason); err != nil {
			return err
		}
		closing := &pb.Closing{By: who.member.Name, At: tx.Stamp(), Reason: request.Reason}
		for _, roll := range open {
			closing.Open = append(closing.Open, roll.Member)
		}
		if err := tx.AddClosing(ids[1], closing); err != nil {
			return err
		}
		ride.State, ride.ClosedAt = pb.Ride_CLOSED, tx.Stamp()
		if err := tx.SaveRide(ride); err != nil {
			return err
		}
		what := "closed the roll call"
		if len(open) > 0 {
			what += " with riders not accounted for"
		}
		return tx.Append(audit(who, "RollCallService/CloseRide", ride.Name, what))
	})
	if err != nil {
		return nil, err
	}
	return ride, nil
}

// begun refuses to close a ride that has not started, is closed already, or called off.
func begun(tx *ledger.Tx, ride *pb.Ride) error {
	switch {
	case ride.State == pb.Ride_CALLED_OFF || ride.State == pb.Ride_CLOSED:
		return fault.New(pb.Reason_WRONG_STATE, "the ride is %s already", rideState(ride.State))
	case tx.Now.Before(ride.StartAt.AsTime()):
		return fault.New(pb.Reason_WRONG_STATE, "the ride has not started yet; it does at %s", ride.StartLocal)
	}
	return nil
}

// unaccounted tells who of a ride is not accounted for.
func unaccounted(tx *ledger.Tx, ride string) ([]*pb.RiderRoll, error) {
	var riders []string
	err := tx.Signups(ride, func(signup *pb.Signup) error {
		if signup.State == pb.Signup_IN {
			riders = append(riders, signup.Member)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	marks, err := marksOf(tx, ride)
	if err != nil {
		return nil, err
	}
	var open []*pb.RiderRoll
	for _, roll := range rollcall.Riders(riders, marks) {
		if !roll.Accounted {
			open = append(open, roll)
		}
	}
	return open, nil
}

// mayClose refuses to close while somebody is not accounted for, and names who, unless a secretary says why.
func mayClose(tx *ledger.Tx, who *caller, open []*pb.RiderRoll, reason string) error {
	if len(open) == 0 || who.has(pb.Role_SECRETARY) && strings.TrimSpace(reason) != "" {
		return nil
	}
	made := &fault.Error{Reason: pb.Reason_WRONG_STATE,
		Message: "not everybody is accounted for: mark who is home, handed over or did not come; a secretary can close it all the same, with a reason"}
	for _, roll := range open {
		member, err := tx.Member(names.Last(roll.Member))
		if err != nil {
			return err
		}
		made.Limits = append(made.Limits, fault.Limit{ID: names.Last(roll.Member), What: member.DisplayName + " is " + rollcall.Word(roll.State)})
	}
	return made
}

// ReopenRide implements RollCallService.
func (s *rollCallService) ReopenRide(ctx context.Context, request *pb.ReopenRideRequest) (ride *pb.Ride, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = tx.Ride(ids[1]); err != nil {
			return err
		}
		if ride.State != pb.Ride_CLOSED {
			return fault.New(pb.Reason_WRONG_STATE, "the ride is not closed")
		}
		ride.State, ride.ClosedAt = pb.Ride_OPEN, nil
		if ride.RosterNumber > 0 {
			ride.State = pb.Ride_PUBLISHED
		}
		if err := tx.AddClosing(ids[1], &pb.Closing{Reopened: true, By: who.member.Name, At: tx.Stamp(), Reason: request.Reason}); err != nil {
			return err
		}
		if err := tx.SaveRide(ride); err != nil {
			return err
		}
		return tx.Append(audit(who, "RollCallService/ReopenRide", ride.Name, "opened the roll call again"))
	})
	if err != nil {
		return nil, err
	}
	return ride, nil
}
