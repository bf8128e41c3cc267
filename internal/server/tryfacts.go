package server

import (
	"context"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// TryFacts implements BikeService.
func (s *bikeService) TryFacts(ctx context.Context, request *pb.TryFactsRequest) (*pb.TryFactsResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.MemberShape)
	if err != nil {
		return nil, err
	}
	response := &pb.TryFactsResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if err := datesPast(tx, request.Facts); err != nil {
			return err
		}
		bike := &pb.Bike{Name: names.Bike(tx.Club, ids[1], request.BikeId)}
		subject := readiness.Subject{}
		if request.BikeId != "" {
			if bike, err = tx.Bike(ids[1], request.BikeId); err != nil {
				return err
			}
			if subject, err = subjectOf(tx, bike); err != nil {
				return err
			}
		}
		subject.Declaration = &pb.Declaration{
			Revision: bike.GetDeclaration().GetRevision() + 1, CertifiedAt: tx.Stamp(), CertifiedBy: who.member.Name, Facts: request.Facts}
		if request.Ride != "" {
			response.Groups, err = s.onRide(tx, who, subject, request.Ride)
			return err
		}
		if response.ByDay, err = s.onDayOf(tx, subject, tx.Now, 0, false); err != nil {
			return err
		}
		response.AfterDark, err = s.onDayOf(tx, subject, tx.Now, afterDarkMin, false)
		return err
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// onRide assesses a bike in each group of a ride.
func (d *desk) onRide(tx *ledger.Tx, who *caller, subject readiness.Subject, name string) ([]*pb.Assessment, error) {
	ride, err := names.In(who.club, "ride", name, names.RideShape)
	if err != nil {
		return nil, err
	}
	g, err := d.ground(tx, ride[1])
	if err != nil {
		return nil, err
	}
	if subject.Bike != "" {
		if subject.Looks, err = looksFor(tx, subject.Bike, name); err != nil {
			return nil, err
		}
	}
	return roster.Standings(g.book, subject, g.plan, g.now), nil
}
