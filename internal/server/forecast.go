package server

import (
	"context"
	"errors"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/forecast/endpoint"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// DefaultForecastAge is how old a forecast may be unless told otherwise: global forecasts are made four times a day
// (Norwegian Meteorological Institute, "Locationforecast data model"), so that two have been missed by then.
const DefaultForecastAge = 12 * time.Hour

// Forecasts says where forecasts come from, and how old they may be.
type Forecasts struct {
	// Endpoint is asked for them; nil: they come from files alone.
	Endpoint *endpoint.Endpoint
	// Name is what the service is called; empty: the name of its host.
	Name string
	// MaxAge is how old a forecast may be to be relied on; 0: DefaultForecastAge.
	MaxAge time.Duration
}

// ReadForecast implements RideService. The service is asked outside any transaction, so that nobody waits for it.
func (s *rideService) ReadForecast(ctx context.Context, request *pb.ReadForecastRequest) (*pb.Ride, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	var line *pb.RouteLine
	var asked *pb.Ride
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if asked, err = s.forForecast(tx, ids[1], request.Etag); err != nil {
			return err
		}
		line, err = tx.Route(ids[1])
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(line.LatDeg) == 0 {
		return nil, errors.New("the stored route is empty")
	}
	answer, name, err := s.forecast(ctx, request, line)
	if err != nil {
		return nil, err
	}
	return s.changeForecast(ctx, who, ids[1], request.Etag, "ReadForecast", "read a forecast", func(tx *ledger.Tx, ride *pb.Ride) error {
		if ride.Route.GetDigest() != asked.Route.GetDigest() {
			return fault.New(pb.Reason_CHANGED_MEANWHILE, "the route changed while the forecast was being read; read it again")
		}
		_, zone, err := s.zone(tx)
		if err != nil {
			return err
		}
		wanted := roster.ForecastFor{
			Start: ride.StartAt.AsTime().In(zone), Line: line, ReadAt: answer.ReadAt, Now: tx.Now,
			MaxAge: s.forecasts.MaxAge, Origin: name,
		}
		if wanted.MaxAge == 0 {
			wanted.MaxAge = DefaultForecastAge
		}
		if answer.Note != "" {
			wanted.Notes = []string{answer.Note}
		}
		if answer.ReadAt.IsZero() { // a file
			wanted.ReadAt = tx.Now
		}
		ride.Forecast, err = roster.Forecast(answer.Forecast, wanted)
		return err
	})
}

// DropForecast implements RideService.
func (s *rideService) DropForecast(ctx context.Context, request *pb.DropForecastRequest) (*pb.Ride, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	return s.changeForecast(ctx, who, ids[1], request.Etag, "DropForecast", "took the forecast out", func(_ *ledger.Tx, ride *pb.Ride) error {
		if ride.Forecast == nil {
			return fault.New(pb.Reason_WRONG_STATE, "the ride has no forecast")
		}
		ride.Forecast = nil
		return nil
	})
}

// changeForecast changes the forecast of a ride that has not begun.
func (s *rideService) changeForecast(ctx context.Context, who *caller, id, etag, method, done string, change func(*ledger.Tx, *pb.Ride) error) (ride *pb.Ride, err error) {
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if ride, err = s.forForecast(tx, id, etag); err != nil {
			return err
		}
		before := ride.Forecast
		if err := change(tx, ride); err != nil {
			return err
		}
		if !roster.SameHours(before, ride.Forecast) {
			ride.Reason = "" // it was given for other weather
		}
		if err := s.soundRide(tx, ride); err != nil {
			return err
		}
		if err := tx.SaveRide(ride); err != nil {
			return err
		}
		return tx.Append(audit(who, "RideService/"+method, ride.Name, done))
	})
	if err != nil {
		return nil, err
	}
	return ride, nil
}

// forForecast is a ride whose forecast may be changed.
func (s *rideService) forForecast(tx *ledger.Tx, id, etag string) (*pb.Ride, error) {
	ride, err := tx.Ride(id)
	if err != nil {
		return nil, err
	}
	if err := ledger.Unchanged(etag, ride, ride.Name); err != nil {
		return nil, err
	}
	return ride, s.notUnderWay(tx, ride)
}

// forecast reads the file that came, or asks the weather service for the place where the route starts.
func (s *rideService) forecast(ctx context.Context, request *pb.ReadForecastRequest, line *pb.RouteLine) (answer *endpoint.Answer, name string, err error) {
	if len(request.File) > 0 {
		name = "file"
		if request.FileName != "" {
			name += " " + request.FileName
		}
		read, err := roster.ReadForecast(request.File)
		return &endpoint.Answer{Forecast: read}, name, err
	}
	service := s.forecasts.Endpoint
	if service == nil {
		return nil, "", fault.New(pb.Reason_NO_WEATHER_SERVICE, "this server is not set up to ask a weather service")
	}
	answer, err = service.Fetch(ctx, line.LatDeg[0], line.LonDeg[0])
	var told *endpoint.Error
	if errors.As(err, &told) {
		return nil, "", &fault.Error{Reason: pb.Reason_UNAVAILABLE, Cause: err,
			Message: "there is no forecast from the weather service: " + told.What + "; send one as a file, or enter the weather by hand"}
	}
	if name = s.forecasts.Name; name == "" {
		name = service.Host()
	}
	return answer, name, err
}

// aged is a plan with the age of its forecast, and a word where that is too old.
func aged(plan *pb.RidePlan, ride *pb.Ride, now time.Time) *pb.RidePlan {
	plan = proto.Clone(plan).(*pb.RidePlan)
	plan.ForecastAgeMin = proto.Float64(max(0, now.Sub(ride.Forecast.IssuedAt.AsTime()).Minutes()))
	var old *fault.Error
	if errors.As(roster.StaleForecast(ride, now), &old) {
		plan.Notes = append(plan.Notes, "Too old to publish on: "+old.Message+". Read it again, or take it out and enter the weather by hand.")
	}
	return plan
}
