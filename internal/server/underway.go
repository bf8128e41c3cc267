package server

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// unmarked is how long after its start a ride of which nobody is marked as on the road counts as under way all the same.
// A choice of this program.
const unmarked = 3 * time.Hour

// onRoad are the marks of a rider who has set off.
var onRoad = map[pb.Mark_What]bool{pb.Mark_SET_OFF: true, pb.Mark_IN_GROUP: true, pb.Mark_TURNED_BACK: true, pb.Mark_HOME: true}

// notUnderWay refuses to change a ride that is closed, called off, or under way: from the first mark on of somebody who has
// set off, who rides where is the roll call's matter. Until then everything may change, past the planned start too.
func (d *desk) notUnderWay(tx *ledger.Tx, ride *pb.Ride) error {
	return d.stays(tx, ride, "mark in the roll call who rides where")
}

// entriesOpen is notUnderWay for a change of sign-ups, in words for who asks: a member marks nobody.
func (d *desk) entriesOpen(tx *ledger.Tx, who *caller, ride *pb.Ride) error {
	if signsUpOthers(who, ride) {
		return d.notUnderWay(tx, ride)
	}
	return d.stays(tx, ride, "sign-ups stay as they are from then on; speak to the ride leader")
}

// stays is notUnderWay, with what to do instead.
func (d *desk) stays(tx *ledger.Tx, ride *pb.Ride, instead string) error {
	if err := notEnded(ride); err != nil {
		return err
	}
	first, err := setOff(tx, ride)
	if err != nil {
		return err
	}
	if !first.IsZero() {
		_, zone, err := d.zone(tx)
		if err != nil {
			return err
		}
		return fault.New(pb.Reason_RIDE_OVER, "the ride is under way: the first riders set off at %s; %s", first.In(zone).Format("15:04"), instead)
	}
	if !tx.Now.Before(ride.StartAt.AsTime().Add(unmarked)) {
		return fault.New(pb.Reason_RIDE_OVER, "the ride started at %s", ride.StartLocal)
	}
	return nil
}

// setOff is when the first riders of a ride set off, by the roll call; the zero time: nobody has.
func setOff(tx *ledger.Tx, ride *pb.Ride) (first time.Time, err error) {
	marks, err := marksOf(tx, names.Last(ride.Name))
	for _, mark := range rollcall.Counting(marks) {
		if at := rollcall.At(mark); onRoad[mark.What] && (first.IsZero() || at.Before(first)) {
			first = at
		}
	}
	return first, err
}

// early is how long before its start it is looked whether riders of a ride have set off. A choice of this program.
const early = 12 * time.Hour

// tellSetOff puts into a ride, a copy of the caller's own, when its first riders set off before the start.
func tellSetOff(tx *ledger.Tx, ride *pb.Ride) error {
	start := ride.StartAt.AsTime()
	if notEnded(ride) != nil || !tx.Now.Before(start) || tx.Now.Before(start.Add(-early)) {
		return nil
	}
	first, err := setOff(tx, ride)
	if !first.IsZero() {
		ride.SetOffAt = timestamppb.New(first)
	}
	return err
}

// plannedStart is when a ride was to start before its start was put back on the day.
func plannedStart(ride *pb.Ride) time.Time { return plannedFor(ride, "", ride.StartAt.AsTime()) }

// plannedFor is when a group, or with "" the ride, was to start before its start was put back; else the start given.
func plannedFor(ride *pb.Ride, group string, start time.Time) time.Time {
	for _, back := range ride.PutBacks {
		if back.Group == group {
			return back.FromAt.AsTime()
		}
	}
	return start
}

// gathering tells that the planned start of a ride is past. Who waits at home then is not given a place any more: a place
// that comes free is for who stands there.
func gathering(tx *ledger.Tx, ride *pb.Ride) bool { return !tx.Now.Before(plannedStart(ride)) }

// absent are the members who are marked in the roll call as not come.
func absent(tx *ledger.Tx, ride string) (map[string]bool, error) {
	marks, err := marksOf(tx, ride)
	if err != nil || len(marks) == 0 {
		return nil, err
	}
	away := map[string]bool{}
	for _, roll := range rollcall.Call(&pb.RollBasis{}, marks, tx.Now).Riders {
		if roll.State == pb.RiderRoll_DID_NOT_COME {
			away[roll.Member] = true
		}
	}
	return away, nil
}

// startMoved refuses to plan another start once the planned one is past, and forgets how it was put back before.
func startMoved(tx *ledger.Tx, ride *pb.Ride, before time.Time, planned time.Time) error {
	if ride.StartAt.AsTime().Equal(before) {
		return nil
	}
	if !tx.Now.Before(planned) {
		return fault.Invalid("ride.start_local", "the planned start is past; put the start back as a late one instead")
	}
	ride.PutBacks = nil
	return nil
}

// civilMinute writes an instant as the civil time that a start has.
func civilMinute(at time.Time, zone *time.Location) string {
	return at.In(zone).Format(civil.TimeLayout)
}

// notEnded refuses a ride that is closed or called off.
func notEnded(ride *pb.Ride) error {
	switch ride.State {
	case pb.Ride_CALLED_OFF:
		return fault.New(pb.Reason_RIDE_OVER, "the ride is called off: %s", ride.CallOffReason)
	case pb.Ride_CLOSED:
		return fault.New(pb.Reason_RIDE_OVER, "the ride is closed")
	}
	return nil
}

// notOver refuses a ride that has begun, is closed or called off.
func notOver(tx *ledger.Tx, ride *pb.Ride) error {
	if err := notEnded(ride); err != nil {
		return err
	}
	if !tx.Now.Before(ride.StartAt.AsTime()) {
		return fault.New(pb.Reason_RIDE_OVER, "the ride started at %s", ride.StartLocal)
	}
	return nil
}
