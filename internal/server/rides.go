package server

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	"google.golang.org/protobuf/proto"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

type rideService struct {
	pb.UnsafeRideServiceServer
	*desk
	forecasts Forecasts
	answers   rosterAnswers
	pages     string // address below which rosters have their pages
	// ending ends when the server is to stop.
	ending context.Context
}

// CreateRide implements RideService.
func (s *rideService) CreateRide(ctx context.Context, request *pb.CreateRideRequest) (*pb.Ride, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	way, err := givenRoad(who, request)
	if err != nil {
		return nil, err
	}
	var ride *pb.Ride
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "CreateRide", Message: request}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			ride, err = tx.Ride(names.Last(made))
			return err
		}
		if way == nil {
			if way, err = roadOf(tx, names.Last(request.RouteOf)); err != nil {
				return err
			}
		}
		if ride, err = s.create(tx, who, request.Ride, way); err != nil {
			return err
		}
		return tx.Answer(asked, ride.Name)
	})
	if err != nil {
		return nil, err
	}
	return ride, nil
}

// create writes a new ride and its route.
func (s *rideService) create(tx *ledger.Tx, who *caller, asked *pb.Ride, road *road) (*pb.Ride, error) {
	ride := &pb.Ride{}
	for _, field := range rideFields {
		copyField(ride, asked, field)
	}
	if ride.Leader == "" {
		ride.Leader = who.member.Name
	}
	ride.State, ride.CreatedAt = pb.Ride_OPEN, tx.Stamp()
	if ride.Conditions != nil {
		ride.Conditions.EnteredAt = tx.Stamp()
	}
	ride.Route = road.summary
	if err := s.soundRide(tx, ride); err != nil {
		return nil, err
	}
	day := ride.StartLocal[:len(civil.DateLayout)]
	id, err := freeID(day+" "+ride.Title, day+"-ride", tx.HasRide)
	if err != nil {
		return nil, err
	}
	ride.Name = names.Ride(tx.Club, id)
	if err := tx.SaveRoute(id, road.line); err != nil {
		return nil, err
	}
	if err := tx.SaveRide(ride); err != nil {
		return nil, err
	}
	return ride, tx.Append(audit(who, "RideService/CreateRide", ride.Name, "created a ride"))
}

// GetRide implements RideService.
func (s *rideService) GetRide(ctx context.Context, request *pb.GetRideRequest) (ride *pb.Ride, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = tx.Ride(ids[1]); err != nil {
			return err
		}
		return tellSetOff(tx, ride)
	})
	return ride, err
}

// ListRides implements RideService.
func (s *rideService) ListRides(ctx context.Context, request *pb.ListRidesRequest) (*pb.ListRidesResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	response, size := &pb.ListRidesResponse{}, pageSize(request.PageSize)
	err := s.view(ctx, who, func(tx *ledger.Tx) error {
		if isGuest(who.member) {
			ride, err := tx.Ride(names.Last(who.member.Ride))
			response.Rides = []*pb.Ride{ride}
			if err != nil {
				return err
			}
		} else if err := tx.Rides(request.PageToken, size+1, func(ride *pb.Ride) error {
			if len(response.Rides) == size {
				response.NextPageToken = names.Last(response.Rides[size-1].Name)
				return nil
			}
			response.Rides = append(response.Rides, ride)
			return nil
		}); err != nil {
			return err
		}
		for _, ride := range response.Rides {
			if err := tellSetOff(tx, ride); err != nil {
				return err
			}
		}
		return nil
	})
	return response, err
}

// UpdateRide implements RideService.
func (s *rideService) UpdateRide(ctx context.Context, request *pb.UpdateRideRequest) (*pb.Ride, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "ride.name", request.Ride.GetName(), names.RideShape)
	if err != nil {
		return nil, err
	}
	var way *road
	if len(request.RouteGpx) > 0 {
		if way, err = readRoad(request.RouteGpx); err != nil {
			return nil, err
		}
	}
	var ride *pb.Ride
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = tx.Ride(ids[1]); err != nil {
			return err
		}
		if err := s.change(tx, ride, way, request); err != nil {
			return err
		}
		return tx.Append(audit(who, "RideService/UpdateRide", ride.Name, "changed "+changed(request)))
	})
	if err != nil {
		return nil, err
	}
	return ride, nil
}

// changed says in words what a request changes.
func changed(request *pb.UpdateRideRequest) string {
	what := request.UpdateMask.GetPaths()
	if len(request.RouteGpx) > 0 {
		what = append(slices.Clone(what), "route")
	}
	return joined(what)
}

// change applies a request to a ride that has not begun.
func (s *rideService) change(tx *ledger.Tx, ride *pb.Ride, road *road, request *pb.UpdateRideRequest) error {
	if err := ledger.Unchanged(request.Ride.Etag, ride, ride.Name); err != nil {
		return err
	}
	if err := s.notUnderWay(tx, ride); err != nil {
		return err
	}
	before, planned, led := ride.StartAt.AsTime(), plannedStart(ride), ride.Leader
	if road == nil || len(request.UpdateMask.GetPaths()) > 0 {
		if err := applyMask(ride, request.Ride, request.UpdateMask, rideFields); err != nil {
			return err
		}
	}
	if road != nil {
		ride.Route, ride.Forecast = road.summary, nil // it was for another place
		if err := tx.SaveRoute(names.Last(ride.Name), road.line); err != nil {
			return err
		}
	}
	if ride.Leader != led && !slices.Contains(request.UpdateMask.GetPaths(), "leader_phone") {
		ride.LeaderPhone = "" // it was the other's
	}
	if paths := request.UpdateMask.GetPaths(); slices.Contains(paths, "conditions") {
		if !slices.Contains(paths, "reason") {
			ride.Reason = "" // it was given for other weather
		}
		if ride.Conditions != nil {
			ride.Conditions.EnteredAt = tx.Stamp()
		}
	}
	ride.GroupPins = slices.DeleteFunc(ride.GroupPins, func(pin *pb.GroupPin) bool {
		return !slices.ContainsFunc(ride.Groups, func(group *pb.Group) bool { return group.Id == pin.Group })
	})
	if err := s.soundRide(tx, ride); err != nil {
		return err
	}
	if err := startMoved(tx, ride, before, planned); err != nil {
		return err
	}
	if err := placesKept(tx, ride); err != nil {
		return err
	}
	if err := s.fill(tx, ride); err != nil {
		return err
	}
	return tx.SaveRide(ride)
}

// CallOffRide implements RideService.
func (s *rideService) CallOffRide(ctx context.Context, request *pb.CallOffRideRequest) (ride *pb.Ride, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = tx.Ride(ids[1]); err != nil {
			return err
		}
		if err := ledger.Unchanged(request.Etag, ride, ride.Name); err != nil {
			return err
		}
		if ride.State == pb.Ride_CALLED_OFF || ride.State == pb.Ride_CLOSED {
			return fault.New(pb.Reason_WRONG_STATE, "the ride is %s already", rideState(ride.State))
		}
		if err := s.notUnderWay(tx, ride); err != nil {
			return err
		}
		ride.State, ride.CallOffReason = pb.Ride_CALLED_OFF, request.Reason
		if err := callOffRoster(tx, who, ride); err != nil {
			return err
		}
		told, err := everybody(tx, ids[1])
		if err != nil {
			return err
		}
		if err := s.tell(tx, ride, &pb.Letter{Kind: pb.Letter_CALLED_OFF}, told...); err != nil {
			return err
		}
		if err := tx.SaveRide(ride); err != nil {
			return err
		}
		return tx.Append(audit(who, "RideService/CallOffRide", ride.Name, "called the ride off"))
	})
	return ride, err
}

func rideState(state pb.Ride_State) string {
	if state == pb.Ride_CALLED_OFF {
		return "called off"
	}
	return "closed"
}

// PlanRide implements RideService.
func (s *rideService) PlanRide(ctx context.Context, request *pb.PlanRideRequest) (plan *pb.RidePlan, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		g, err := s.ground(tx, ids[1])
		if err != nil {
			return err
		}
		plan = proto.CloneOf(g.plan) // the one in the ground is shared
		limits, err := s.startLimits(tx, g, ids[1])
		if err != nil {
			return err
		}
		s.madeAhead.asked(tx, "start limits of "+ids[1], func(_ context.Context, tx *ledger.Tx) error {
			g, err := s.ground(tx, ids[1])
			if err == nil {
				_, err = s.startLimits(tx, g, ids[1])
			}
			return err
		})
		may, err := privyTo(tx, who, g.ride)
		plan.StartLimits = roster.LimitsSeenBy(limits, may)
		return err
	})
	return plan, err
}

// GetRoute implements RideService.
func (s *rideService) GetRoute(ctx context.Context, request *pb.GetRouteRequest) (line *pb.RouteLine, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.PeekRide(ids[1])
		if err != nil {
			return err
		}
		if known := request.KnownDigest; known != "" && known == ride.GetRoute().GetDigest() {
			line = &pb.RouteLine{}
			return nil
		}
		line, err = s.measured(tx, ride)
		return err
	})
	return line, err
}

// rideFields are what a leader may set on a ride.
var rideFields = []string{
	"title", "leader", "start_local", "meeting_point", "groups", "stops", "hazards", "ways_out", "conditions", "places",
	"signup_opens_at", "signup_closes_at", "reason", "single_file", "leader_phone", "recorded_times",
}

func copyField(to, from proto.Message, name string) {
	target, source := to.ProtoReflect(), from.ProtoReflect()
	field := target.Descriptor().Fields().ByName(protoName(name))
	if source.Has(field) {
		target.Set(field, source.Get(field))
	}
}

// issueNumber reads a number at the end of a name, from 1.
func issueNumber(id string) (int32, error) {
	number, err := strconv.ParseInt(id, 10, 32)
	if err == nil && number < 1 {
		err = strconv.ErrRange
	}
	return int32(number), err
}

// freeID makes an id of a title that is not taken yet, with a number behind it where it must.
func freeID(title, fallback string, taken func(string) (bool, error)) (string, error) {
	base := names.Slug(title, 40)
	if base == "" {
		base = fallback
	}
	for id, n := base, 2; ; id, n = fmt.Sprintf("%s-%d", base, n), n+1 {
		used, err := taken(id)
		if err != nil || !used {
			return id, err
		}
	}
}
