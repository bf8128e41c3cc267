package wear

import (
	"math"
	"slices"
)

// apart is the least distance in x at which two points say anything of a slope.
const apart = 0.001

// Interval is a figure with its range: Low <= Middle <= High.
type Interval struct{ Low, Middle, High float64 }

// Slope is the slope of a straight line through points of which some may be far off.
//
// The middle is Siegel's repeated median: for each point the median of the slopes to the others, and of these the
// median. Any two points of six or more may be anywhere. The median of all slopes (Theil 1950), which is the better
// known, holds out against two only from eight points on.
//
// The range is Sen's of 1968: of the sorted slopes between pairs, as many are left out at each end as leave the true
// slope between with the probability given, if the errors of the points are alike and independent. Where there are too
// few points for that it is all of them. It is widened to hold the middle.
//
// Pairs less than 0.001 apart in x (of kilometres, one metre) say nothing and are left out. ok is false without any
// pair. x and y are of one length, and finite.
func Slope(x, y []float64, probability float64) (slope Interval, ok bool) {
	var pairs, middles []float64
	for i := range x {
		var own []float64
		for j := range x {
			if math.Abs(x[j]-x[i]) < apart {
				continue
			}
			s := (y[j] - y[i]) / (x[j] - x[i])
			own = append(own, s)
			if j > i {
				pairs = append(pairs, s)
			}
		}
		if len(own) > 0 {
			middles = append(middles, median(own))
		}
	}
	if len(pairs) == 0 {
		return Interval{}, false
	}
	slices.Sort(pairs)
	leave := min(max(rankFrom(len(x), probability), 0), (len(pairs)-1)/2)
	slope.Middle = median(middles)
	slope.Low = min(pairs[leave], slope.Middle)
	slope.High = max(pairs[len(pairs)-1-leave], slope.Middle)
	return slope, true
}

// median sorts the values, of which there is at least one, and gives the middle one, or the mean of the two.
func median(values []float64) float64 { return quantile(values, 0.5) }

// quantile sorts the values, of which there is at least one, and gives the one below which the share of them lies, on
// straight lines between neighbours.
func quantile(values []float64, share float64) float64 {
	slices.Sort(values)
	place := share * float64(len(values)-1)
	i := int(place)
	if i+1 >= len(values) {
		return values[len(values)-1]
	}
	return values[i] + (place-float64(i))*(values[i+1]-values[i])
}
