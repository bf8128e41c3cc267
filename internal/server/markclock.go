package server

import (
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

const (
	// leastAhead is from when a device's clock counts as wrong: a message may be under way for less.
	leastAhead = time.Minute
	// mostAhead is how wrong a clock may be: one that begins at 1970 after its battery was flat is taken.
	mostAhead = 100 * 366 * 24 * time.Hour
)

// clockAhead is how far a device's clock is ahead of the server's; 0 where it is right, or where it is not told.
func clockAhead(tx *ledger.Tx, deviceNow *timestamppb.Timestamp) (time.Duration, error) {
	if deviceNow == nil {
		return 0, nil
	}
	ahead := time.Duration(0)
	if deviceNow.IsValid() {
		ahead = deviceNow.AsTime().Sub(tx.Now)
	}
	if !deviceNow.IsValid() || ahead.Abs() > mostAhead {
		return 0, fault.Invalid("device_now", "is not a time within a hundred years; look at the device's clock")
	}
	if ahead.Abs() < leastAhead {
		return 0, nil
	}
	return ahead, nil
}

// correct sets when a mark was made by the server's clock. A time that the device's clock does not explain is refused; what a
// person states may lie before the ride was entered.
func (m *marking) correct(path string, mark *pb.Mark) error {
	mark.CorrectedAt, mark.ClockAhead = nil, nil
	if mark.At == nil {
		mark.At = m.tx.Stamp()
		mark.CorrectedAt = mark.At
		return nil
	}
	if !mark.At.IsValid() {
		return fault.Invalid(path+".at", "is not a time")
	}
	at := mark.At.AsTime()
	if m.ahead != 0 && !mark.TimeStated {
		at = at.Add(-m.ahead)
		mark.ClockAhead = durationpb.New(m.ahead)
	}
	mark.CorrectedAt = timestamppb.New(at)
	switch {
	case !mark.CorrectedAt.IsValid():
		return fault.Invalid(path+".at", "is not a time")
	case at.After(m.tx.Now.Add(clockSlack)):
		return fault.Invalid(path+".at", "lies in the future; look at the device's clock")
	case !mark.TimeStated && at.Before(m.ride.CreatedAt.AsTime().Add(-clockSlack)):
		return fault.Invalid(path+".at", "lies before the ride was made; look at the device's clock")
	}
	return nil
}
