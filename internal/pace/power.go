package pace

import "math"

// Terms are the parts of the power balance, in watts at the wheel; negative
// where they push.
type Terms struct {
	AirW, RollingW, BearingW, GradientW float64
}

// Balance splits the power for a steady speed in m/s (not negative) up a
// gradient (rise over run) against a headwind in m/s at rider height (negative
// from behind). Martin et al. 1998, without the kinetic term; the air term has
// the sign of the air's speed, so that a tailwind faster than the rider pushes,
// and is scaled by the draft factor.
func Balance(p Params, speedMS, gradient, headwindMS float64) Terms {
	air := speedMS + headwindMS
	b := p.balance(gradient, headwindMS)
	weight := p.MassKg * p.GravityMS2 / math.Sqrt(1+gradient*gradient)
	return Terms{
		AirW:      b.drag * air * math.Abs(air) * speedMS,
		RollingW:  weight * p.Crr * speedMS,
		BearingW:  (p.BearingN + p.BearingNsPerM*speedMS) * speedMS,
		GradientW: weight * gradient * speedMS,
	}
}

// PowerW is the power at the cranks, in watts, for a steady speed; see
// [Balance]. Negative means braking: the net power then, divided by the
// efficiency all the same.
func PowerW(p Params, speedMS, gradient, headwindMS float64) float64 {
	t := Balance(p, speedMS, gradient, headwindMS)
	return (t.AirW + t.RollingW + t.BearingW + t.GradientW) / p.Efficiency
}

// balance holds what of the power at the wheel does not depend on speed:
//
//	drag (v+wind)|v+wind| v + steady v + linear v^2
type balance struct{ drag, wind, steady, linear float64 }

func (p Params) balance(gradient, headwindMS float64) balance {
	// cos(atan G) = 1/sqrt(1+G^2), sin(atan G) = G times that.
	weight := p.MassKg * p.GravityMS2 / math.Sqrt(1+gradient*gradient)
	return balance{
		drag:   p.DraftFactor * p.AirDensityKgM3 / 2 * (p.CdAM2 + p.FwM2),
		wind:   headwindMS,
		steady: weight*(p.Crr+gradient) + p.BearingN,
		linear: p.BearingNsPerM,
	}
}

// at is the power at the wheel, and its slope over speed.
func (b balance) at(v float64) (powerW, slope float64) {
	air := v + b.wind
	drag := b.drag * math.Abs(air)
	return (drag*air + b.steady + b.linear*v) * v, drag*(air+2*v) + b.steady + 2*b.linear*v
}

// SpeedMS is the greatest steady speed, in m/s, that a power at the cranks (in
// watts, not negative) holds up a gradient against a headwind: of the solutions
// of the balance, as downhill without power, the stable one. NaN if a figure is
// not finite, power is negative, or there is no air drag at all.
//
// For power not negative the balance stays at or below it up to that speed and
// above it beyond: against the wind it is convex from 0 on; before the wind its
// slope is concave up to the wind's speed and rises after it. So one bracket
// holds the answer.
func SpeedMS(p Params, powerW, gradient, headwindMS float64) float64 {
	b := p.balance(gradient, headwindMS)
	want := powerW * p.Efficiency
	if sum := want + b.drag + b.wind + b.steady + b.linear; math.IsNaN(sum) || math.IsInf(sum, 0) {
		return math.NaN()
	}
	if !(b.drag > 0) || powerW < 0 {
		return math.NaN()
	}
	return b.solve(want, 0, b.above(want))
}

// above is a speed that needs more than the wanted power, as do all faster.
func (b balance) above(want float64) float64 {
	// From 2|wind| on the air moves at half the rider's speed at least.
	v := 2*math.Abs(b.wind) + 1
	for (b.drag*v*v/4+b.steady)*v <= want {
		v *= 2
	}
	return v
}

// solve finds the speed between lo, which needs no more than the wanted power,
// and hi, which needs more, to the last digit or so: Newton's steps, halving
// where they leave the bracket.
func (b balance) solve(want, lo, hi float64) float64 {
	v := hi
	for range 100 {
		w, slope := b.at(v)
		if w > want {
			hi = v
		} else {
			lo = v
		}
		next := v - (w-want)/slope
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if tol := 1e-13 * (1 + hi); math.Abs(next-v) <= tol || hi-lo <= tol {
			return next
		}
		v = next
	}
	return v
}
