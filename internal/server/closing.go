package server

import (
	"context"
	"slices"
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
		call, err := s.rollCall(tx, ride)
		if err != nil {
			return err
		}
		open, err := shut(tx, who, call, "", request.Reason)
		if err != nil {
			return err
		}
		ride.State, ride.ClosedAt = pb.Ride_CLOSED, tx.Stamp()
		if err := tx.SaveRide(ride); err != nil {
			return err
		}
		return tx.Append(audit(who, "RollCallService/CloseRide", ride.Name, "closed the roll call"+withOpen(open)))
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

// withOpen says in the audit log that not everybody was accounted for.
func withOpen(open []*pb.RiderRoll) string {
	if len(open) == 0 {
		return ""
	}
	return " with riders not accounted for"
}

// CloseGroup implements RollCallService.
func (s *rollCallService) CloseGroup(ctx context.Context, request *pb.CloseGroupRequest) (call *pb.RollCall, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		if err := offered("group", ride, request.Group); err != nil {
			return err
		}
		if err := begun(tx, ride); err != nil {
			return err
		}
		if call, err = s.rollCall(tx, ride); err != nil {
			return err
		}
		for _, group := range call.Groups {
			if group.Group == request.Group && group.Closed {
				return fault.New(pb.Reason_WRONG_STATE, "%s is closed already", group.Title)
			}
		}
		open, err := shut(tx, who, call, request.Group, request.Reason)
		if err != nil {
			return err
		}
		if err := tx.Append(audit(who, "RollCallService/CloseGroup", ride.Name, "closed group "+request.Group+withOpen(open))); err != nil {
			return err
		}
		call, err = s.rollCall(tx, ride)
		return err
	})
	if err != nil {
		return nil, err
	}
	return call, nil
}

// shut writes that a group, or with "" the ride, is closed, and gives who is not accounted for. While somebody is not, it
// refuses and names who, unless a secretary says why.
func shut(tx *ledger.Tx, who *caller, call *pb.RollCall, group, reason string) (open []*pb.RiderRoll, err error) {
	refused := &fault.Error{Reason: pb.Reason_WRONG_STATE,
		Message: "not everybody is accounted for: mark who is home, handed over or did not come; a secretary can close it all the same, with a reason"}
	closing := &pb.Closing{Group: group, By: who.member.Name, At: tx.Stamp(), Reason: reason}
	for _, roll := range call.Riders {
		if roll.Accounted || group != "" && roll.Group != group {
			continue
		}
		open = append(open, roll)
		closing.Open = append(closing.Open, roll.Member)
		refused.Limits = append(refused.Limits, fault.Limit{ID: roll.Member, What: roll.DisplayName + " is " + rollcall.Word(roll.State)})
	}
	if len(open) > 0 && (!who.has(pb.Role_SECRETARY) || strings.TrimSpace(reason) == "") {
		return nil, refused
	}
	return open, tx.AddClosing(names.Last(call.Basis.Ride), closing)
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
		call, err := s.rollCall(tx, ride)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(call.Groups, func(group *pb.GroupRoll) bool { return group.Closed }) && ride.State != pb.Ride_CLOSED {
			return fault.New(pb.Reason_WRONG_STATE, "neither the ride nor a group of it is closed")
		}
		ride.ClosedAt = nil
		switch {
		case ride.State != pb.Ride_CLOSED: // only groups of it are closed
		case ride.RosterNumber > 0:
			ride.State = pb.Ride_PUBLISHED
		default:
			ride.State = pb.Ride_OPEN
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
