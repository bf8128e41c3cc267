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
	usual, room := coldDefault(), [20]coldPoint{}
	curve := usual[:]
	if len(points) > 0 {
		curve = sorted(room[:0], points)
	}
	for i, right := range curve {
		if temperatureC > right.atC {
			continue
		}
		if i == 0 {
			return right.left
		}
		left := curve[i-1]
		return left.left + (temperatureC-left.atC)/(right.atC-left.atC)*(right.left-left.left)
	}
	return curve[len(curve)-1].left
}

// sorted puts the points in order of temperature, without help from the heap: this is done for every bike.
func sorted(curve []coldPoint, points []*pb.ColdPoint) []coldPoint {
	for _, p := range points {
		curve = append(curve, coldPoint{p.GetAtC(), p.GetLeft()})
		for i := len(curve) - 1; i > 0 && curve[i].atC < curve[i-1].atC; i-- {
			curve[i], curve[i-1] = curve[i-1], curve[i]
		}
	}
	return curve
}
