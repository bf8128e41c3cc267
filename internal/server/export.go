package server

import (
	"context"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// ExportRoute implements RideService.
func (s *rideService) ExportRoute(ctx context.Context, request *pb.ExportRouteRequest) (*pb.RouteFile, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	file := &pb.RouteFile{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		_, zone, err := s.zone(tx)
		if err != nil {
			return err
		}
		used, _, err := s.policyOn(tx, ride.StartAt.AsTime(), zone)
		if err != nil && !fault.Is(err, pb.Reason_NO_POLICY) {
			return err
		}
		past, err := pastTimes(tx, ride)
		if err != nil {
			return err
		}
		line, err := tx.Route(ids[1])
		if err != nil {
			return err
		}
		file.Gpx, err = roster.Export(ride, line, used, zone, past, request.Groups)
		return err
	})
	if err != nil {
		return nil, err
	}
	return file, nil
}
