package route

import "math"

// What counts as a climb, or as a steep descent worth a warning: common
// practice, no source.
const (
	climbGradient   = 0.03 // least mean gradient of a climb
	descentGradient = 0.05 // least mean gradient of a steep descent
	climbGainM      = 20.0 // least height between foot and top
	climbStepM      = 50.0 // stations the gradients are taken between
	climbLetUpM     = 10.0 // height lost against the least gradient that ends a climb
)

// climbs finds the stretches, in order and apart, whose mean gradient is at
// least the limit: uphill with sign 1, downhill with sign -1. A stretch grows
// while it gains on a slope of that limit, and may ease for a while.
func climbs(r *Route, sign, gradient float64) []Stretch {
	n := max(1, int(r.DistanceM/climbStepM))
	step := r.DistanceM / float64(n)
	elev := make([]float64, n+1)
	for i := range elev {
		elev[i] = sign * r.ElevAt(float64(i)*step)
	}
	var found []Stretch
	for foot := 0; foot < n; {
		top := summit(elev[foot:], gradient*step) + foot
		if top == foot {
			foot++
			continue
		}
		if gain := elev[top] - elev[foot]; gain >= climbGainM {
			found = append(found, Stretch{
				FromM: float64(foot) * step, ToM: float64(top) * step,
				GradientMean: sign * gain / (float64(top-foot) * step),
				GradientMax:  sign * steepest(elev[foot:top+1]) / step,
				GainM:        sign * gain,
			})
		}
		foot = top
	}
	return found
}

// summit is the index where elevation stands highest above a slope that starts
// with it and rises by risePerStep; 0 if it does not get above that slope.
func summit(elev []float64, risePerStep float64) int {
	top, best := 0, 0.0
	for i := 1; i < len(elev); i++ {
		above := elev[i] - elev[0] - float64(i)*risePerStep
		if above > best {
			top, best = i, above
		}
		if above <= 0 || above < best-climbLetUpM {
			break
		}
	}
	return top
}

// steepest is the greatest rise between neighbours.
func steepest(elev []float64) float64 {
	best := math.Inf(-1)
	for i := 1; i < len(elev); i++ {
		best = max(best, elev[i]-elev[i-1])
	}
	return best
}
