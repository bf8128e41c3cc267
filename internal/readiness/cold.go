package readiness

import pb "gritward/proto/gritward/v1"

// coldPoint is one point of the curve of a battery in the cold.
type coldPoint struct{ atC, left float64 }

// coldDefault is what is left of a battery's run-time where the policy has no curve of its own: all at 20 C, 0.85 at
// 0 C, 0.75 at -10 C, 0.5 at -20 C. From memory; lithium cells vary. Near it: 87.5 % at 2 C of what there was at 32 C,
// one 18650 cell (ICSI 2016, 19(2), abstract).
func coldDefault() [4]coldPoint { return [4]coldPoint{{-20, 0.5}, {-10, 0.75}, {0, 0.85}, {20, 1}} }

// ColdFraction is the part of a battery's declared run-time that is left at an air temperature, C: on the straight lines
// between the points, flat beyond the first and the last. No points: the default curve. Points may come in any order.
func ColdFraction(points []*pb.ColdPoint, temperatureC float64) float64 {
	var near neighbours
	if len(points) == 0 {
		for _, p := range coldDefault() {
			near.add(p, temperatureC)
		}
	}
	for _, p := range points {
		near.add(coldPoint{p.GetAtC(), p.GetLeft()}, temperatureC)
	}
	below, above := near.below, near.above
	switch {
	case !near.hasAbove:
		return below.left
	case !near.hasBelow:
		return above.left
	default:
		return below.left + (temperatureC-below.atC)/(above.atC-below.atC)*(above.left-below.left)
	}
}

// neighbours are the nearest points below a temperature, and at or above it.
type neighbours struct {
	below, above       coldPoint
	hasBelow, hasAbove bool
}

func (n *neighbours) add(p coldPoint, temperatureC float64) {
	switch {
	case p.atC < temperatureC:
		if !n.hasBelow || p.atC >= n.below.atC {
			n.below, n.hasBelow = p, true
		}
	case !n.hasAbove || p.atC < n.above.atC:
		n.above, n.hasAbove = p, true
	}
}
