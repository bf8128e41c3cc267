package rollcall

import (
	"time"

	pb "gritward/proto/gritward/v1"
)

// longest is after how long a ride that nobody closed counts as past in lists, which know no plan: no group is out longer on a
// winter's day (common practice, no source).
const longest = 10 * time.Hour

// Past tells whether a ride counts as past in lists.
func Past(ride *pb.Ride, now time.Time) bool {
	return ride.GetState() == pb.Ride_CLOSED || now.After(ride.GetStartAt().AsTime().Add(longest))
}
