package server

import (
	"context"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// LiftBike implements BikeService.
func (s *bikeService) LiftBike(ctx context.Context, request *pb.LiftBikeRequest) (*pb.LiftBikeResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.BikeShape)
	if err != nil {
		return nil, err
	}
	ride, err := names.In(who.club, "ride", request.Ride, names.RideShape)
	if err != nil {
		return nil, err
	}
	response := &pb.LiftBikeResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		bike, err := tx.Bike(ids[1], ids[2])
		if err != nil {
			return err
		}
		g, err := s.ground(tx, ride[1])
		if err != nil {
			return err
		}
		subject, err := subjectOf(tx, bike)
		if err != nil {
			return err
		}
		subject.Looks, err = looksFor(tx, bike.Name, request.Ride)
		for _, group := range g.plan.Groups {
			response.Lifts = append(response.Lifts, readiness.Lifts(g.book, subject, group, g.now))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}
