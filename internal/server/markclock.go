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

// correct sets when a mark was made by the server's clock. What a person states is not corrected, and may lie before the ride was
// entered.
func (m *marking) correct(path string, mark *pb.Mark) error {
	mark.CorrectedAt, mark.ClockAhead = nil, nil
	if mark.At == nil {
		mark.At = m.tx.Stamp()
		mark.CorrectedAt = mark.At
		return nil
	}
	ahead, since := m.ahead, m.ride.CreatedAt.AsTime()
	if mark.TimeStated {
		ahead, since = 0, time.Time{}
	}
	at, err := corrected(m.tx, path+".at", mark.At, ahead, since)
	if err != nil {
		return err
	}
	mark.CorrectedAt = timestamppb.New(at)
	if ahead != 0 {
		mark.ClockAhead = durationpb.New(ahead)
	}
	return nil
}

// corrected is a device's time by the server's clock. What the device's clock does not explain is refused: a time ahead of now,
// or before since, where that is given.
func corrected(tx *ledger.Tx, path string, told *timestamppb.Timestamp, ahead time.Duration, since time.Time) (time.Time, error) {
	if !told.IsValid() {
		return time.Time{}, fault.Invalid(path, "is not a time")
	}
	at := told.AsTime().Add(-ahead)
	switch {
	case !timestamppb.New(at).IsValid():
		return at, fault.Invalid(path, "is not a time")
	case at.After(tx.Now.Add(clockSlack)):
		return at, fault.Invalid(path, "lies in the future; look at the device's clock")
	case !since.IsZero() && at.Before(since.Add(-clockSlack)):
		return at, fault.Invalid(path, "lies before the ride was made; look at the device's clock")
	}
	return at, nil
}
