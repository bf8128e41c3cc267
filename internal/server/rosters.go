package server

import (
	"cmp"
	"context"
	"fmt"
	"strconv"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// PlaceRide implements RideService.
func (s *rideService) PlaceRide(ctx context.Context, request *pb.PlaceRideRequest) (*pb.Placement, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	return s.placed(ctx, who, ids[1])
}

// inputOf is input of a ride that may still change.
func (s *rideService) inputOf(tx *ledger.Tx, ride string) (*roster.Input, error) {
	g, err := s.changing(tx, ride)
	if err != nil {
		return nil, err
	}
	return s.input(tx, g)
}

// changing is the ground of a ride that may still change.
func (s *rideService) changing(tx *ledger.Tx, ride string) (*ground, error) {
	g, err := s.ground(tx, ride)
	if err != nil {
		return nil, err
	}
	return g, s.notUnderWay(tx, g.ride)
}

// input gathers all that a placement rests on. The ride is its own, to be changed and saved.
func (s *rideService) input(tx *ledger.Tx, g *ground) (*roster.Input, error) {
	ride := names.Last(g.ride.Name)
	entrants, err := s.entrants(tx, ride)
	if err != nil {
		return nil, err
	}
	if len(entrants) == 0 {
		return nil, nobodyGoes()
	}
	in := &roster.Input{
		Club: g.club, Ride: proto.CloneOf(g.ride), Plan: g.plan, Policy: g.policy, PolicyNumber: g.revision.Number,
		Entrants: entrants, Now: g.now,
	}
	if in.Line, err = tx.Route(ride); err != nil {
		return nil, err
	}
	if in.Past, err = pastTimes(tx, g.ride); err != nil {
		return nil, err
	}
	if in.Timelines, err = s.timelines(tx, g); err != nil {
		return nil, err
	}
	leader, err := tx.Member(names.Last(g.ride.Leader))
	if err != nil {
		return nil, err
	}
	in.LeaderName = leader.DisplayName
	if g.ride.RosterNumber > 0 {
		in.Previous, err = tx.PeekRoster(ride, g.ride.RosterNumber)
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
	placement, err := s.placed(ctx, who, ids[1])
	if err != nil {
		return nil, err
	}
	placement = proto.CloneOf(placement) // an issue is added to
	var issue *pb.Roster
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "PublishRoster", Message: request}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			issue, err = rosterByName(tx, ids[1], names.Last(made))
			return err
		}
		if issue, err = s.publish(tx, who, ids[1], placement, request); err != nil {
			return err
		}
		return tx.Answer(asked, issue.Name)
	})
	if err != nil {
		return nil, err
	}
	s.page(issue)
	return issue, nil
}

// page says where the page of an issue is.
func (s *rideService) page(issue *pb.Roster) {
	if s.pages != "" {
		issue.PageUrl = s.pages + "/" + issue.Name
	}
}

// placed places the riders of a ride in a transaction that reads, so that nobody waits for it who writes.
func (s *rideService) placed(ctx context.Context, who *caller, ride string) (placement *pb.Placement, err error) {
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		g, err := s.changing(tx, ride)
		if err != nil {
			return err
		}
		if placement, err = s.placedOn(ctx, tx, g); err != nil {
			return err
		}
		s.madeAhead.asked(tx, "placement of "+ride, func(ctx context.Context, tx *ledger.Tx) error {
			g, err := s.changing(tx, ride)
			if err == nil {
				_, err = s.placedOn(ctx, tx, g)
			}
			return err
		})
		return nil
	})
	return placement, err
}

// placedOn places, unless the same was placed a moment ago: people look, and then publish what they looked at. What is in the placement
// is shared: do not change it.
func (s *rideService) placedOn(ctx context.Context, tx *ledger.Tx, g *ground) (*pb.Placement, error) {
	key, err := s.placingKey(tx, g)
	if err != nil {
		return nil, err
	}
	made, err := s.placements.get(key, func() (*pb.Placement, error) {
		in, err := s.input(tx, g)
		if err != nil {
			return nil, err
		}
		made, err := roster.Place(ctx, *in)
		return made, cmp.Or(err, ctx.Err()) // what was given up is not kept
	})
	if err != nil {
		return nil, err
	}
	own := shallow(made)
	own.PlacedAt = tx.Stamp()
	return own, nil
}

// shallow is a message of its own with what is in another one, which they share.
func shallow[M proto.Message](of M) M {
	own := of.ProtoReflect().New()
	of.ProtoReflect().Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		own.Set(field, value)
		return true
	})
	return own.Interface().(M) //nolint:errcheck,forcetypeassert // of its own type
}

// placingKey tells apart all that a placement rests on. The issue before counts, for the moves; the date and the zone too: what is
// due ages by the day.
func (s *rideService) placingKey(tx *ledger.Tx, g *ground) (string, error) {
	basis, err := s.basis(tx, g)
	if err == nil && basis == "" {
		err = nobodyGoes()
	}
	return fmt.Sprint(basis, " ", g.ride.RosterNumber, " ", g.today()), err
}

func nobodyGoes() error {
	return fault.New(pb.Reason_WRONG_STATE, "nobody has signed up for the ride yet; sign somebody up first")
}

// publish writes the next issue of the roster, if all that the placement rests on is still so.
func (s *rideService) publish(tx *ledger.Tx, who *caller, ride string, placement *pb.Placement, request *pb.PublishRosterRequest) (*pb.Roster, error) {
	in, err := s.inputOf(tx, ride)
	if err != nil {
		return nil, err
	}
	if err := roster.StaleForecast(in.Ride, tx.Now); err != nil {
		return nil, err
	}
	if limits := in.Plan.CallOff; len(limits) > 0 && in.Ride.Reason == "" {
		return nil, callOffFault(limits)
	}
	basis, err := roster.Basis(*in)
	if err != nil {
		return nil, err
	}
	if basis != placement.Basis || request.Basis != "" && request.Basis != basis {
		return nil, fault.New(pb.Reason_CHANGED_MEANWHILE,
			"the ride, a sign-up, a bike, the policy or a past ride's times changed since the riders were placed; look at the placement again")
	}
	if placement.Placed == 0 {
		return nil, nobodyFault(placement)
	}
	if in.Previous != nil && in.Previous.Placement.GetBasis() == placement.Basis {
		return nil, fault.New(pb.Reason_WRONG_STATE, "nothing has changed since issue %d; nothing is published", in.Previous.Number)
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
	told, err := everybody(tx, ride)
	if err != nil {
		return nil, err
	}
	if err := s.tell(tx, in.Ride, &pb.Letter{Kind: pb.Letter_ROSTER, Issue: issue.Number}, told...); err != nil {
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
		made.Limits = append(made.Limits, fault.Limit{ID: idle.Group, What: idle.Why})
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
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		number, ride, err := rosterNumber(tx, ids[1], ids[2])
		if err != nil {
			return err
		}
		issueNo := strconv.Itoa(int(number))
		answer := s.answers.of(ride.Name + "/" + issueNo)
		if issue, err = answer.seenBy(tx, s, who, ride, number); err != nil {
			return err
		}
		s.madeAhead.asked(tx, "issue "+issueNo+" of "+ids[1], func(ctx context.Context, tx *ledger.Tx) error {
			return answer.again(ctx, tx, s, ids[1], number)
		})
		return nil
	})
	return issue, err
}

// since fills in what has changed since the newest issue was published.
func (s *rideService) since(tx *ledger.Tx, id string, issue *pb.Roster) error {
	ride, err := tx.Ride(id)
	if err != nil || issue.Number != ride.RosterNumber {
		return err
	}
	entrants, err := s.entrants(tx, id)
	issue.Since = roster.Since(issue, ride, entrants)
	return err
}

// callOffRoster publishes, for a ride that has a roster, the issue that says it is called off.
func callOffRoster(tx *ledger.Tx, who *caller, ride *pb.Ride) error {
	if ride.RosterNumber == 0 {
		return nil
	}
	last, err := tx.Roster(names.Last(ride.Name), ride.RosterNumber)
	if err != nil {
		return err
	}
	ride.RosterNumber++
	issue, err := roster.CalledOff(last, ride, who.member.Name, tx.Now)
	if err != nil {
		return err
	}
	return tx.AddRoster(issue)
}

// rosterByName reads an issue by the last part of its name, or with names.Any the newest.
func rosterByName(tx *ledger.Tx, ride, id string) (*pb.Roster, error) {
	number, _, err := rosterNumber(tx, ride, id)
	if err != nil {
		return nil, err
	}
	return tx.Roster(ride, number)
}

// rosterNumber is the number of the issue that the last part of a name means, and its ride, which is shared.
func rosterNumber(tx *ledger.Tx, id, issue string) (int32, *pb.Ride, error) {
	ride, err := tx.PeekRide(id)
	if err != nil {
		return 0, nil, err
	}
	if issue == names.Any {
		if ride.RosterNumber == 0 {
			return 0, nil, fault.New(pb.Reason_NOT_FOUND, "no roster of %s is published yet", ride.Name)
		}
		return ride.RosterNumber, ride, nil
	}
	number, err := issueNumber(issue)
	if err != nil || number > ride.RosterNumber {
		return 0, nil, fault.NotFound(names.Ride(tx.Club, id) + "/rosters/" + issue)
	}
	return number, ride, nil
}

// ListRosters implements RideService.
func (s *rideService) ListRosters(ctx context.Context, request *pb.ListRostersRequest) (*pb.ListRostersResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListRostersResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.PeekRide(ids[1])
		if err != nil {
			return err
		}
		response.Rosters, err = issueHeads(tx, ride)
		return err
	})
	return response, err
}

// eachIssue visits the issues of a ride's roster, oldest first. They are shared: do not change them.
func eachIssue(tx *ledger.Tx, ride *pb.Ride, visit func(*pb.Roster) error) error {
	for number := int32(1); number <= ride.RosterNumber; number++ {
		issue, err := tx.PeekRoster(names.Last(ride.Name), number)
		if fault.Is(err, pb.Reason_NOT_FOUND) {
			continue
		}
		if err == nil {
			err = visit(issue)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// issueHeads are the issues of a ride's roster without what they tell of the ride, oldest first. Do not change what is in them.
func issueHeads(tx *ledger.Tx, ride *pb.Ride) (heads []*pb.Roster, err error) {
	err = eachIssue(tx, ride, func(issue *pb.Roster) error {
		head := &pb.Roster{}
		issue.ProtoReflect().Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
			if name := field.Name(); name != "plan" && name != "placement" && name != "brief" {
				head.ProtoReflect().Set(field, value)
			}
			return true
		})
		heads = append(heads, head)
		return nil
	})
	return heads, err
}
