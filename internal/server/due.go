package server

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"gritward/internal/care"
	"gritward/internal/civil"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// daysAhead is how far ahead ListDue looks when it is not told.
const daysAhead = 28

// ListDue implements BikeService.
func (s *bikeService) ListDue(ctx context.Context, request *pb.ListDueRequest) (*pb.ListDueResponse, error) {
	who := callerOf(ctx)
	shape := names.MemberShape
	if strings.Contains(request.Parent, "/bikes/") {
		shape = names.BikeShape
	}
	ids, err := names.In(who.club, "parent", request.Parent, shape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListDueResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		look := func(bike *pb.Bike) error {
			items, err := s.due(tx, bike, int(request.DaysAhead))
			response.Items = append(response.Items, items...)
			return err
		}
		if shape == names.BikeShape {
			bike, err := tx.Bike(ids[1], ids[2])
			if err != nil {
				return err
			}
			return look(bike)
		}
		if _, err := tx.Member(ids[1]); err != nil {
			return err
		}
		return tx.Bikes(ids[1], "", 0, look)
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(response.Items, care.Compare)
	return response, nil
}

// due lists what is due on one bike.
func (s *bikeService) due(tx *ledger.Tx, bike *pb.Bike, ahead int) ([]*pb.DueItem, error) {
	_, zone, err := s.zone(tx)
	if err != nil {
		return nil, err
	}
	used, revision, err := s.policyOn(tx, tx.Now, zone)
	if err != nil {
		return nil, err
	}
	subject, err := subjectOf(tx, bike)
	if err != nil {
		return nil, err
	}
	if ahead == 0 {
		ahead = daysAhead
	}
	in := care.Input{Bike: bike, Care: subject.Care, Book: used.Book(), At: tx.Now.In(zone), DaysAhead: ahead, Plan: s.dayPlan(used, revision, zone)}
	if in.Asked, err = s.asked.get(revision.Digest, func() (*care.Asked, error) { return care.AskedBy(used.Book()), nil }); err != nil {
		return nil, err
	}
	day := revision.Digest + " " + zone.String() + " " + in.At.Format(civil.DateLayout)
	if in.Days, err = s.ahead.get(day, func() (*care.Days, error) { return care.DaysFrom(in.At, in.Plan) }); err != nil {
		return nil, err
	}
	err = tx.Ridden(names.Part(bike.Name, "members"), names.Part(bike.Name, "bikes"), func(ridden *pb.RiddenRide) error {
		in.Rides = append(in.Rides, care.Ridden{On: ridden.Day, Km: ridden.Km, Wet: ridden.Wet})
		return nil
	})
	if err != nil {
		return nil, err
	}
	return care.Due(in)
}

// dayPlan plans days without a ride. Those from the end of a day are kept: everything that is due is looked for on the next 400.
func (s *bikeService) dayPlan(used *policy.Policy, revision *pb.PolicyRevision, zone *time.Location) func(time.Time) (*pb.GroupPlan, error) {
	before := revision.Digest + " " + zone.String() + " "
	return func(at time.Time) (*pb.GroupPlan, error) {
		made := func() (*pb.GroupPlan, error) { return roster.Day(used, zone, at, 0, false) }
		if hour, minute, second := at.Clock(); hour != 23 || minute != 59 || second != 59 || at.Nanosecond() != 0 {
			return made()
		}
		return s.days.get(before+strconv.FormatInt(at.Unix(), 10), made)
	}
}
