package ledger

import (
	"crypto/rand"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// SaveRecordedTime writes how long a group took for a ride; written again for the same ride and group, it counts once.
func (t *Tx) SaveRecordedTime(recorded *pb.RecordedTime) error {
	if _, err := t.ids(recorded.Ride, names.RideShape); err != nil {
		return err
	}
	if err := t.save("time/"+RecordedTimeID(recorded), recorded); err != nil {
		return err
	}
	return t.timesChanged()
}

// DropRecordedTime takes away how long a group took for a ride, if that is there.
func (t *Tx) DropRecordedTime(recorded *pb.RecordedTime) error {
	if err := t.tx.Delete("time/" + RecordedTimeID(recorded)); err != nil {
		return err
	}
	return t.timesChanged()
}

const timesKey = "times-changed"

// TimesMark is another one after recorded times were written or taken away: what is reckoned from them holds while it stays.
func (t *Tx) TimesMark() (string, error) {
	mark, err := t.tx.Get(timesKey)
	return string(mark), err
}

// timesChanged writes another mark, one that no transaction had before, also none that was given up.
func (t *Tx) timesChanged() error { return t.tx.Put(timesKey, []byte(rand.Text())) }

// RecordedTimes visits how long groups took, at most limit (0: all): of a group, or of all where it is "", from the
// last group to the first, and of each the latest day first. It begins before the id given.
func (t *Tx) RecordedTimes(group, before string, limit int, visit func(*pb.RecordedTime) error) error {
	prefix := "time/"
	if group != "" {
		prefix += group + "/"
	}
	if before != "" {
		before = "time/" + before
	}
	return eachDown(t, prefix, before, func() *pb.RecordedTime { return &pb.RecordedTime{} }, limited(limit, visit))
}

// RecordedTimeID is what a recorded time lies under: group, day, ride. Group and day alone come before all of that day.
func RecordedTimeID(recorded *pb.RecordedTime) string {
	id := recorded.Group + "/" + recorded.Day
	if recorded.Ride == "" {
		return id
	}
	return id + "/" + names.Last(recorded.Ride)
}

// RecordedTime reads how long a group took for a ride on a day; nil where that is not there.
func (t *Tx) RecordedTime(group, day, ride string) (*pb.RecordedTime, error) {
	id := RecordedTimeID(&pb.RecordedTime{Group: group, Day: day, Ride: names.Ride(t.Club, ride)})
	recorded, err := load(t, "time/"+id, id, &pb.RecordedTime{})
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return nil, nil
	}
	return recorded, err
}
