package readiness

import (
	"cmp"
	"slices"

	pb "gritward/proto/gritward/v1"
)

// coldDefault is what is left of a battery's run-time where the policy has no curve of its own: all at 20 C, 0.85 at
// 0 C, 0.75 at -10 C, 0.5 at -20 C. From memory; lithium cells vary. Near it: 87.5 % at 2 C of what there was at 32 C,
// one 18650 cell (ICSI 2016, 19(2), abstract).
func coldDefault() []*pb.ColdPoint {
	return []*pb.ColdPoint{{AtC: -20, Left: 0.5}, {AtC: -10, Left: 0.75}, {AtC: 0, Left: 0.85}, {AtC: 20, Left: 1}}
}

// ColdFraction is the part of a battery's declared run-time that is left at an air temperature, C: on the straight lines
// between the points, flat beyond the first and the last. No points: the default curve. Points may come in any order.
func ColdFraction(points []*pb.ColdPoint, temperatureC float64) float64 {
	if len(points) == 0 {
		points = coldDefault()
	}
	curve := slices.SortedFunc(slices.Values(points), func(a, b *pb.ColdPoint) int {
		return cmp.Compare(a.GetAtC(), b.GetAtC())
	})
	for i, right := range curve {
		if temperatureC > right.GetAtC() {
			continue
		}
		if i == 0 {
			return right.GetLeft()
		}
		left := curve[i-1]
		part := (temperatureC - left.GetAtC()) / (right.GetAtC() - left.GetAtC())
		return left.GetLeft() + part*(right.GetLeft()-left.GetLeft())
	}
	return curve[len(curve)-1].GetLeft()
}
