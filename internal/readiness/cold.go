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
	usual := coldDefault()
	n, point := len(usual), func(i int) coldPoint { return usual[i] }
	if len(points) > 0 {
		n, point = len(points), func(i int) coldPoint { return coldPoint{points[i].GetAtC(), points[i].GetLeft()} }
	}
	// The nearest points below, and at or above.
	var below, above coldPoint
	hasBelow, hasAbove := false, false
	for i := range n {
		switch p := point(i); {
		case p.atC < temperatureC:
			if !hasBelow || p.atC >= below.atC {
				below, hasBelow = p, true
			}
		case !hasAbove || p.atC < above.atC:
			above, hasAbove = p, true
		}
	}
	switch {
	case !hasAbove:
		return below.left
	case !hasBelow:
		return above.left
	default:
		return below.left + (temperatureC-below.atC)/(above.atC-below.atC)*(above.left-below.left)
	}
}
