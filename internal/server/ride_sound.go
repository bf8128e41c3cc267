package server

import (
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// maxYearsAhead keeps a slip of the pen in a date from passing.
const maxYearsAhead = 2

// soundRide holds a ride against what must be true of rides, and sets its start as an instant.
func (s *rideService) soundRide(tx *ledger.Tx, ride *pb.Ride) error {
	if err := checked(s.validator, "ride.", ride); err != nil {
		return err
	}
	_, zone, err := s.zone(tx)
	if err != nil {
		return err
	}
	start, err := civil.Instant("ride.start_local", ride.StartLocal, zone)
	if err != nil {
		return err
	}
	if unchanged := ride.StartAt != nil && start.Equal(ride.StartAt.AsTime()); !unchanged && !start.After(tx.Now) {
		return &fault.Error{
			Reason: pb.Reason_RIDE_OVER, Message: "the ride would start in the past",
			Fields: []fault.Field{{Path: "ride.start_local", What: ride.StartLocal + " is past; it is " +
				tx.Now.In(zone).Format(civil.TimeLayout) + " now"}},
		}
	}
	if start.After(tx.Now.AddDate(maxYearsAhead, 0, 0)) {
		return fault.Invalid("ride.start_local", "%s is more than %d years ahead", ride.StartLocal, maxYearsAhead)
	}
	if err := soundSignup(ride, start); err != nil {
		return err
	}
	ride.StartAt = timestamppb.New(start)
	if !roster.Reaches(ride.Forecast, start) {
		ride.Forecast = nil
	}
	if err := soundWeather(ride, plannedStart(ride), zone); err != nil {
		return err
	}
	if err := soundPlaces(ride); err != nil {
		return err
	}
	return soundPeople(tx, ride)
}

// soundSignup holds the times of sign-up against one another and the start.
func soundSignup(ride *pb.Ride, start time.Time) error {
	closes := start
	if at := ride.SignupClosesAt; at != nil {
		if !at.IsValid() || at.AsTime().After(start) {
			return fault.Invalid("ride.signup_closes_at", "must not be after the start")
		}
		closes = at.AsTime()
	}
	if at := ride.SignupOpensAt; at != nil && (!at.IsValid() || !at.AsTime().Before(closes)) {
		return fault.Invalid("ride.signup_opens_at", "must be before sign-up closes")
	}
	return nil
}

// soundWeather reads the hours of the conditions, which must come in order.
func soundWeather(ride *pb.Ride, start time.Time, zone *time.Location) error {
	if err := roster.SoundWeather("ride.conditions.start", ride.GetConditions().GetStart(), ride.Forecast != nil); err != nil {
		return err
	}
	before := start
	for i, later := range ride.GetConditions().GetLater() {
		path := "ride.conditions.later[" + strconv.Itoa(i) + "].from_local"
		from, err := civil.Instant(path, later.FromLocal, zone)
		if err != nil {
			return err
		}
		if !from.After(before) {
			return fault.Invalid(path, "%s is not after the time before it; put the hours in order, after the start", later.FromLocal)
		}
		if err := roster.SoundWeather(strings.TrimSuffix(path, ".from_local")+".weather", later.Weather, ride.Forecast != nil); err != nil {
			return err
		}
		before = from
	}
	return nil
}
