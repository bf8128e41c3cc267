package phrase

import (
	"math"

	pb "gritward/proto/gritward/v1"
)

// StopAt is when a group comes to a planned stop, by its plan; nil where that does not tell.
func StopAt(g *pb.GroupPlan, stop *pb.Stop) *pb.PlanPoint {
	for _, p := range g.GetPoints() {
		// Points carry the distance of the stop they stand for; half a metre is rounding.
		if p.GetWhat() == stop.GetTitle() && math.Abs(p.GetDistanceM()-stop.GetAtDistanceM()) < 0.5 {
			return p
		}
	}
	return nil
}
