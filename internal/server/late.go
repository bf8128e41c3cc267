package server

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// startService is what a leader does at the start.
type startService struct {
	pb.UnsafeStartServiceServer
	rides *rideService
}

// maxPutBacks keeps a ride's record small.
const maxPutBacks = 50

// GetLateStart implements StartService.
func (s *startService) GetLateStart(ctx context.Context, request *pb.GetLateStartRequest) (late *pb.LateStart, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.rides.view(ctx, who, func(tx *ledger.Tx) error {
		in, err := s.rides.inputOf(tx, ids[1])
		if err != nil {
			return err
		}
		asked, err := s.start(tx, in.Ride, request.Group, request.StartLocal)
		if err != nil {
			return err
		}
		after, err := asked.putBack(in.Ride)
		if err != nil {
			return err
		}
		if late, err = roster.Late(ctx, *in, after); err != nil {
			return err
		}
		late.Ride, late.Group, late.StartLocal = in.Ride, request.Group, civilMinute(asked.at, asked.zone)
		late.StartAt, late.BeforeAt = timestamppb.New(asked.at), timestamppb.New(asked.before)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return late, nil
}

// PutBackStart implements StartService.
func (s *startService) PutBackStart(ctx context.Context, request *pb.PutBackStartRequest) (ride *pb.Ride, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.rides.update(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = tx.Ride(ids[1]); err != nil {
			return err
		}
		if err := ledger.Unchanged(request.Etag, ride, ride.Name); err != nil {
			return err
		}
		if err := s.rides.notUnderWay(tx, ride); err != nil {
			return err
		}
		asked, err := s.start(tx, ride, request.Group, request.StartLocal)
		if err != nil || asked.at.Equal(asked.before) {
			return err
		}
		if len(ride.PutBacks) == maxPutBacks {
			return fault.New(pb.Reason_WRONG_STATE, "the start was put back %d times already", maxPutBacks)
		}
		if ride, err = asked.putBack(ride); err != nil {
			return err
		}
		ride.PutBacks = append(ride.PutBacks, &pb.PutBack{Group: request.Group, FromAt: timestamppb.New(asked.before),
			ToAt: timestamppb.New(asked.at), By: who.member.Name, At: tx.Stamp(), Reason: request.Reason})
		if err := tx.SaveRide(ride); err != nil {
			return err
		}
		return tx.Append(audit(who, "StartService/PutBackStart", ride.Name, "put the start back to "+civilMinute(asked.at, asked.zone)))
	})
	if err != nil {
		return nil, err
	}
	return ride, nil
}

// lateStart is a late start that was asked for: of a group, or with "" of the ride.
type lateStart struct {
	group      string
	at, before time.Time
	zone       *time.Location
}

// start reads a late start: on the day of the ride, neither before the planned start nor before now.
func (s *startService) start(tx *ledger.Tx, ride *pb.Ride, group, local string) (*lateStart, error) {
	_, zone, err := s.rides.zone(tx)
	if err != nil {
		return nil, err
	}
	if err := offered("group", ride, group); err != nil {
		return nil, err
	}
	asked := &lateStart{group: group, before: ride.StartAt.AsTime(), zone: zone}
	for _, one := range ride.Groups {
		if one.Id == group {
			asked.before = asked.before.Add(time.Duration(one.StartOffsetMin) * time.Minute)
		}
	}
	now := tx.Now.Truncate(time.Minute)
	if local == "" {
		asked.at = now
		if tx.Now.After(now) {
			asked.at = now.Add(time.Minute)
		}
		local = civilMinute(asked.at, zone)
	} else if asked.at, err = civil.Instant("start_local", local, zone); err != nil {
		return nil, err
	}
	planned := plannedFor(ride, group, asked.before)
	switch {
	case local[:len(civil.DateLayout)] != ride.StartLocal[:len(civil.DateLayout)]:
		return nil, fault.Invalid("start_local", "%s is not on the day of the ride, %s; for another day change the ride",
			local, ride.StartLocal[:len(civil.DateLayout)])
	case asked.at.Before(planned):
		return nil, fault.Invalid("start_local", "%s is before the planned start, %s; a start is put back only",
			local, civilMinute(planned, zone))
	case asked.at.Before(now):
		return nil, fault.Invalid("start_local", "%s is past; it is %s now", local, civilMinute(now, zone))
	}
	return asked, nil
}

// putBack is a ride with the late start; the ride given stays as it is.
func (l *lateStart) putBack(ride *pb.Ride) (*pb.Ride, error) {
	after := proto.CloneOf(ride)
	if l.group == "" {
		after.StartAt, after.StartLocal = timestamppb.New(l.at), civilMinute(l.at, l.zone)
		return after, nil
	}
	const most = 180 // as Group.start_offset_min has it
	offset := l.at.Sub(ride.StartAt.AsTime()).Minutes()
	if offset < 0 || offset > most {
		return nil, fault.Invalid("start_local", "a group starts from 0 to %d min after the ride, which starts at %s; put the ride's start back",
			most, civilMinute(ride.StartAt.AsTime(), l.zone))
	}
	for _, group := range after.Groups {
		if group.Id == l.group {
			group.StartOffsetMin = int32(offset)
		}
	}
	return after, nil
}
