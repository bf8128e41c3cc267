package server

import (
	"context"
	"crypto/sha256"
	"fmt"

	"gritward/internal/civil"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// recordTimes reckons anew, from the marks of a ride and the newest issue of its roster, how long its groups took. A
// ride without a roster has no plan to compare with.
func (s *rollCallService) recordTimes(tx *ledger.Tx, ride *pb.Ride, marks []*pb.Mark) error {
	if ride.RosterNumber == 0 {
		return nil
	}
	id := names.Last(ride.Name)
	issue, err := tx.Roster(id, ride.RosterNumber)
	if err != nil {
		return err
	}
	zone, err := civil.Zone("zone", issue.Zone)
	if err != nil {
		return err
	}
	recorded, missing := roster.RecordedTimes(issue, marks, zone)
	for _, one := range recorded {
		if err := tx.SaveRecordedTime(one); err != nil {
			return err
		}
	}
	for _, one := range missing {
		if err := tx.DropRecordedTime(one); err != nil {
			return err
		}
	}
	return nil
}

// marksOf reads the marks of a ride.
func marksOf(tx *ledger.Tx, ride string) (marks []*pb.Mark, err error) {
	err = tx.Marks(ride, func(mark *pb.Mark) error {
		marks = append(marks, mark)
		return nil
	})
	return marks, err
}

// pastTimes reads what is recorded of a ride's groups before its day, the latest first.
func pastTimes(tx *ledger.Tx, ride *pb.Ride) ([]*pb.RecordedTime, error) {
	var past []*pb.RecordedTime
	for _, group := range ride.Groups {
		before := ledger.RecordedTimeID(&pb.RecordedTime{Group: group.Id, Day: ride.StartLocal[:len(civil.DateLayout)]})
		err := tx.RecordedTimes(group.Id, before, roster.PastReach, func(one *pb.RecordedTime) error {
			past = append(past, one)
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return past, nil
}

// pastKey tells past times apart, for a cache.
func pastKey(past []*pb.RecordedTime) string {
	sum := sha256.New()
	for _, one := range past {
		fmt.Fprintln(sum, one.Ride, one.Group, one.PaceKmh, one.StartAt.AsTime().UnixNano(), one.PlannedMin, one.TookMin,
			one.RidersHome, one.FirstHomeAt.AsTime().UnixNano(), one.LastHomeAt.AsTime().UnixNano())
	}
	return fmt.Sprintf("%x", sum.Sum(nil))
}

// ListRecordedTimes implements RideService.
func (s *rideService) ListRecordedTimes(ctx context.Context, request *pb.ListRecordedTimesRequest) (*pb.ListRecordedTimesResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	response, size := &pb.ListRecordedTimesResponse{}, pageSize(request.PageSize)
	err := s.view(ctx, who, func(tx *ledger.Tx) error {
		return tx.RecordedTimes(request.Group, request.PageToken, size+1, func(one *pb.RecordedTime) error {
			if len(response.Times) == size {
				response.NextPageToken = ledger.RecordedTimeID(response.Times[size-1])
				return nil
			}
			response.Times = append(response.Times, one)
			return nil
		})
	})
	return response, err
}
