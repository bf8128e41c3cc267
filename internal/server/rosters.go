package server

import (
	"context"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// PlaceRide implements RideService.
func (s *rideService) PlaceRide(ctx context.Context, request *pb.PlaceRideRequest) (placement *pb.Placement, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.ledger.View(ctx, who.club, func(tx *ledger.Tx) error {
		in, err := s.input(tx, ids[1])
		if err != nil {
			return err
		}
		placement, err = roster.Place(ctx, *in)
		return err
	})
	return placement, err
}

// input gathers all that a placement rests on.
func (s *rideService) input(tx *ledger.Tx, ride string) (*roster.Input, error) {
	g, err := s.ground(tx, ride)
	if err != nil {
		return nil, err
	}
	if err := notOver(tx, g.ride); err != nil {
		return nil, err
	}
	entrants, err := s.entrants(tx, ride)
	if err != nil {
		return nil, err
	}
	if len(entrants) == 0 {
		return nil, fault.New(pb.Reason_WRONG_STATE, "nobody has signed up for the ride yet")
	}
	in := &roster.Input{
		Club: g.club, Ride: g.ride, Plan: g.plan, Policy: g.policy, PolicyNumber: g.revision.Number,
		Entrants: entrants, Now: g.now,
	}
	leader, err := tx.Member(names.Last(g.ride.Leader))
	if err != nil {
		return nil, err
	}
	in.LeaderName = leader.DisplayName
	if g.ride.RosterNumber > 0 {
		in.Previous, err = tx.Roster(ride, g.ride.RosterNumber)
	}
	return in, err
}

// PublishRoster implements RideService.
func (s *rideService) PublishRoster(ctx context.Context, request *pb.PublishRosterRequest) (*pb.Roster, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	var issue *pb.Roster
	asked := ledger.Request{Member: who.id(), ID: request.RequestId, Method: "PublishRoster", Message: request}
	err = s.ledger.Update(ctx, who.club, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			issue, err = rosterByName(tx, ids[1], names.Last(made))
			return err
		}
		if issue, err = s.publish(ctx, tx, who, ids[1], request); err != nil {
			return err
		}
		return tx.Answer(asked, issue.Name)
	})
	if err != nil {
		return nil, err
	}
	return issue, nil
}

// publish places the riders, and writes the next issue of the roster.
func (s *rideService) publish(ctx context.Context, tx *ledger.Tx, who *caller, ride string, request *pb.PublishRosterRequest) (*pb.Roster, error) {
	in, err := s.input(tx, ride)
	if err != nil {
		return nil, err
	}
	if limits := in.Plan.CallOff; len(limits) > 0 && in.Ride.Reason == "" {
		return nil, callOffFault(limits)
	}
	placement, err := roster.Place(ctx, *in)
	if err != nil {
		return nil, err
	}
	if request.Basis != "" && request.Basis != placement.Basis {
		return nil, fault.New(pb.Reason_CHANGED_MEANWHILE,
			"the ride, a sign-up, a bike or the policy changed since the riders were placed; look at the placement again")
	}
	if placement.Placed == 0 {
		return nil, nobodyFault(placement)
	}
	in.Ride.State, in.Ride.RosterNumber = pb.Ride_PUBLISHED, in.Ride.RosterNumber+1
	if err := tx.SaveRide(in.Ride); err != nil {
		return nil, err
	}
	issue, err := roster.Issue(*in, placement, who.member.Name)
	if err != nil {
		return nil, err
	}
	if err := tx.AddRoster(issue); err != nil {
		return nil, err
	}
	return issue, tx.Append(audit(who, "RideService/PublishRoster", issue.Name, "published a roster"))
}

// callOffFault says which limits of the policy the weather breaks.
func callOffFault(limits []string) error {
	made := &fault.Error{
		Reason:  pb.Reason_CALL_OFF,
		Message: "the weather breaks the policy's limits: call the ride off, or give the ride a reason to take place all the same",
	}
	for _, limit := range limits {
		made.Limits = append(made.Limits, fault.Limit{ID: "call_off", What: limit})
	}
	return made
}

// nobodyFault says why nobody can be placed.
func nobodyFault(placement *pb.Placement) error {
	made := fault.New(pb.Reason_WRONG_STATE, "nobody can be placed, so there is nothing to publish")
	for _, idle := range placement.Idle {
		made.Limits = append(made.Limits, fault.Limit{ID: idle.Group, What: idle.Title + ": " + idle.Why})
	}
	return made
}

// GetRoster implements RideService.
func (s *rideService) GetRoster(ctx context.Context, request *pb.GetRosterRequest) (issue *pb.Roster, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RosterShape)
	if err != nil {
		return nil, err
	}
	err = s.ledger.View(ctx, who.club, func(tx *ledger.Tx) error {
		issue, err = rosterByName(tx, ids[1], ids[2])
		return err
	})
	return issue, err
}

// rosterByName reads an issue by the last part of its name, or with names.Any the newest.
func rosterByName(tx *ledger.Tx, ride, id string) (*pb.Roster, error) {
	if id == names.Any {
		found, err := tx.Ride(ride)
		if err != nil {
			return nil, err
		}
		if found.RosterNumber == 0 {
			return nil, fault.New(pb.Reason_NOT_FOUND, "no roster of %s is published yet", found.Name)
		}
		return tx.Roster(ride, found.RosterNumber)
	}
	number, err := issueNumber(id)
	if err != nil {
		return nil, fault.NotFound(names.Ride(tx.Club, ride) + "/rosters/" + id)
	}
	return tx.Roster(ride, number)
}

// ListRosters implements RideService.
func (s *rideService) ListRosters(ctx context.Context, request *pb.ListRostersRequest) (*pb.ListRostersResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListRostersResponse{}
	err = s.ledger.View(ctx, who.club, func(tx *ledger.Tx) error {
		if _, err := tx.Ride(ids[1]); err != nil {
			return err
		}
		return tx.Rosters(ids[1], func(issue *pb.Roster) error {
			response.Rosters = append(response.Rosters, issue)
			return nil
		})
	})
	return response, err
}
