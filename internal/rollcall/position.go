package rollcall

import (
	"fmt"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// position tells where a group is by its plan at a time: along the route in metres, and in words. Between two points of the
// plan it is on a straight line of time.
func position(plan *pb.GroupPlan, now time.Time, watch phrase.Watch) (m float64, words string, ok bool) {
	points := plan.GetPoints()
	if len(points) == 0 {
		return 0, "", false
	}
	if now.Before(points[0].GetAt().AsTime()) {
		return 0, "at the start until " + watch.Clock(plan.GetStartAt()), true
	}
	for i, point := range points {
		leaves := point.GetAt().AsTime()
		if point.GetLeavesAt() != nil {
			leaves = point.GetLeavesAt().AsTime()
		}
		if !now.After(leaves) && !now.Before(point.GetAt().AsTime()) && i < len(points)-1 {
			return point.GetDistanceM(), along(point.GetDistanceM(), plan, point.GetWhat()), true
		}
		if i+1 == len(points) {
			break
		}
		to := points[i+1]
		if arrives := to.GetAt().AsTime(); now.Before(arrives) {
			part := float64(now.Sub(leaves)) / float64(arrives.Sub(leaves))
			m := point.GetDistanceM() + part*(to.GetDistanceM()-point.GetDistanceM())
			return m, along(m, plan, ""), true
		}
	}
	last := points[len(points)-1]
	return last.GetDistanceM(), "home since " + watch.Clock(last.GetAt()), true
}

func along(m float64, plan *pb.GroupPlan, what string) string {
	said := fmt.Sprintf("%s of %s", phrase.Km(m), phrase.Km(plan.GetDistanceM()))
	if what == "" {
		return said
	}
	return what + ", " + said
}
