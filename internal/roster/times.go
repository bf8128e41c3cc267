package roster

import (
	"cmp"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// minHome is the fewest riders home that tell when a group was: the middle of three does not follow one who rode home
// alone. Ours.
const minHome = 3

// RecordedTimes reads from a ride's marks how long each group of an issue took. ok has the groups of which that can be
// told, and missing those of which it cannot: too few riders are home, or home before they started.
//
// A group is home in the middle of its riders' HOME marks; of several marks of one rider the latest by its own time counts,
// and none that is struck.
// Who turned back or did not come, and was not marked in the group again, does not count. A group set off in the middle
// of its SET_OFF marks; without one, as planned. A rider rides in the group that the mark names, else in the last one that
// a mark before it named, else in that of the roster.
func RecordedTimes(issue *pb.Roster, marks []*pb.Mark, zone *time.Location) (ok, missing []*pb.RecordedTime) {
	placed := groupsOf(issue)
	off, home := map[string][]time.Time{}, map[string][]time.Time{}
	for id, rider := range marksByRider(rollcall.Counting(marks)) {
		groupOf := func(mark *pb.Mark) string { return cmp.Or(lastNamed(rider, mark), placed[id]) }
		if mark := lastOf(rider, pb.Mark_SET_OFF); mark != nil {
			off[groupOf(mark)] = append(off[groupOf(mark)], rollcall.At(mark))
		}
		if mark := lastOf(rider, pb.Mark_HOME); mark != nil && !left(rider) {
			home[groupOf(mark)] = append(home[groupOf(mark)], rollcall.At(mark))
		}
	}
	stops := 0.0
	for _, stop := range issue.Ride.Stops {
		stops += float64(stop.Minutes)
	}
	for _, planned := range issue.Plan.GetGroups() {
		recorded := &pb.RecordedTime{
			Ride: issue.Ride.Name, Group: planned.Group, RideTitle: issue.Ride.Title, PaceKmh: planned.PaceKmh,
			Day:     issue.Ride.StartAt.AsTime().In(zone).Format(civil.DateLayout),
			StartAt: planned.StartAt, StopsMin: stops, PlannedMin: planned.RidingMin, Roster: issue.Name,
		}
		if past := planned.PastTimes; past != nil {
			recorded.PlannedMin = past.ByPaceMin
		}
		if recordTimes(recorded, off[planned.Group], home[planned.Group]) {
			ok = append(ok, recorded)
		} else {
			missing = append(missing, recorded)
		}
	}
	return ok, missing
}

// recordTimes fills in when a group set off and was home; false when that cannot be told.
func recordTimes(recorded *pb.RecordedTime, off, home []time.Time) bool {
	if len(off) > 0 {
		slices.SortFunc(off, time.Time.Compare)
		recorded.StartAt, recorded.StartMarked = timestamppb.New(middle(off)), true
	}
	if len(home) < minHome {
		return false
	}
	slices.SortFunc(home, time.Time.Compare)
	at := middle(home)
	recorded.HomeAt, recorded.RidersHome = timestamppb.New(at), int32(len(home))
	recorded.FirstHomeAt, recorded.LastHomeAt = timestamppb.New(home[0]), timestamppb.New(home[len(home)-1])
	recorded.TookMin = at.Sub(recorded.StartAt.AsTime()).Minutes() - recorded.StopsMin
	return recorded.TookMin > 0
}

// middle is the median of times in order, of two in the middle the one between.
func middle(sorted []time.Time) time.Time {
	low, high := sorted[(len(sorted)-1)/2], sorted[len(sorted)/2]
	return low.Add(high.Sub(low) / 2)
}

// marksByRider parts marks by the riders' ids, in the order that they have.
func marksByRider(marks []*pb.Mark) map[string][]*pb.Mark {
	riders := map[string][]*pb.Mark{}
	for _, mark := range marks {
		id := riderID(mark.Member)
		riders[id] = append(riders[id], mark)
	}
	return riders
}

// lastOf is the last of a rider's marks of a kind; nil when there is none.
func lastOf(rider []*pb.Mark, what pb.Mark_What) *pb.Mark {
	var last *pb.Mark
	for _, mark := range rider {
		if mark.What == what {
			last = mark
		}
	}
	return last
}

// lastNamed is the group that a rider's mark names, else the last one that a mark before it did; "" for none.
func lastNamed(rider []*pb.Mark, mark *pb.Mark) string {
	group := ""
	for _, one := range rider {
		if !rollcall.At(one).After(rollcall.At(mark)) {
			group = cmp.Or(one.Group, group)
		}
	}
	return cmp.Or(mark.Group, group)
}

// left tells whether a rider was no longer with the group, or never was, by the newest mark that says so or otherwise.
func left(rider []*pb.Mark) bool {
	gone := false
	for _, mark := range rider {
		switch mark.What {
		case pb.Mark_TURNED_BACK, pb.Mark_NO_SHOW:
			gone = true
		case pb.Mark_SIGNED_ON, pb.Mark_SET_OFF, pb.Mark_IN_GROUP:
			gone = false
		}
	}
	return gone
}
