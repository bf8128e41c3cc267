package server

import (
	"context"

	"google.golang.org/grpc"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// changesAtOnce is how many changes are read in one transaction.
const changesAtOnce = 100

// WatchRide implements RideService. Changes are read from the ride's own log; the store only says when to look. The caller
// is looked at again each time.
func (s *rideService) WatchRide(request *pb.WatchRideRequest, stream grpc.ServerStreamingServer[pb.RideChange]) error {
	ctx := stream.Context()
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return err
	}
	woken, err := s.ledger.WatchRide(ctx, who.club, ids[1])
	if err != nil {
		return err
	}
	last, err := s.beginWatch(ctx, who, ids[1], request, stream)
	if err != nil {
		return err
	}
	for {
		more := true
		for more {
			if last, more, err = s.sendChanges(ctx, who, ids[1], last, stream); err != nil {
				return err
			}
		}
		select {
		case _, open := <-woken:
			if !open && ctx.Err() == nil {
				return stopping()
			}
		case <-s.ending.Done():
			return stopping()
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func stopping() error {
	return fault.New(pb.Reason_UNAVAILABLE, "the server is stopping; watch again from the last change that came")
}

// beginWatch finds the change after which to begin. A watch from now on is told its number, so that it can go on from there.
func (s *rideService) beginWatch(ctx context.Context, who *caller, ride string, request *pb.WatchRideRequest,
	stream grpc.ServerStreamingServer[pb.RideChange]) (last int64, err error) {
	begun := &pb.RideChange{News: pb.RideNews_WATCH_BEGUN, Record: request.Name}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if _, err := tx.Ride(ride); err != nil {
			return err
		}
		begun.At = tx.Stamp()
		begun.Number, err = tx.LastChange(ride)
		return err
	})
	switch {
	case err != nil:
		return 0, err
	case request.After == nil:
		return begun.Number, stream.Send(begun)
	case *request.After > begun.Number:
		return 0, fault.Invalid("after", "the ride has come to change %d only; leave it out to begin now", begun.Number)
	}
	return *request.After, nil
}

// sendChanges sends the changes after a number, and tells the last one's and whether there may be more.
func (s *rideService) sendChanges(ctx context.Context, who *caller, ride string, last int64,
	stream grpc.ServerStreamingServer[pb.RideChange]) (number int64, more bool, err error) {
	var changes []*pb.RideChange
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		return tx.Changes(ride, last, changesAtOnce, func(change *pb.RideChange) error {
			changes = append(changes, changeSeenBy(who, change))
			return nil
		})
	})
	if err != nil {
		return last, false, err
	}
	for _, change := range changes {
		if err := stream.Send(change); err != nil {
			return last, false, err
		}
		last = change.Number
	}
	return last, len(changes) == changesAtOnce, nil
}

// changeSeenBy leaves out of a change what a guest is not told: whose sign-up it is, unless it is the guest's own, and what became
// of it. The change itself comes, so that the numbers have no gap.
func changeSeenBy(who *caller, change *pb.RideChange) *pb.RideChange {
	if isGuest(who.member) && change.News == pb.RideNews_SIGNUPS_CHANGED && names.Part(change.Record, "signups") != who.id() {
		change.Record, change.What = "", ""
	}
	return change
}
