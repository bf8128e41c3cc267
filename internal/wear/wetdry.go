package wear

import (
	"math"
	"slices"
)

const (
	// astray is how many readings may be anywhere when wet and dry are told apart.
	astray = 2
	// tellingReadings is the fewest readings from which wet and dry are told apart: three give both rates exactly,
	// astray may be anywhere, and as many must speak against those.
	tellingReadings = 3 + 2*astray
	// tellingKm is the distance on wet and on dry roads each, and twice the distance by which wet roads must have come
	// unevenly, without which wet and dry are not told apart. A choice of this program: see the simulation in its tests.
	tellingKm = 200
)

// rates is wear on dry and on wet roads, in the unit of the limit for 1 km.
type rates struct{ dry, wet float64 }

// tellApart finds the wear on dry and on wet roads: of all planes with rates not below zero the one that leaves the least
// sum of absolute errors, the two greatest errors left out. That plane goes through three readings, or through two with
// one of the rates zero, so that trying all of them finds it (Hawkins and Olive, Applications and algorithms for least
// trimmed sum of absolute deviations regression, Comput. Stat. Data Anal. 32 (1999) 119-134). ok is false where the
// readings cannot tell the rates apart: too few of them, too little of one kind of road, or wet roads spread evenly over
// the distance.
func tellApart(readings []reading) (rates, bool) {
	if len(readings) < tellingReadings || !uneven(readings) {
		return rates{}, false
	}
	best, least := rates{}, math.Inf(1)
	try := func(r rates, through reading) {
		if !(r.dry >= 0 && r.wet >= 0 && r.dry+r.wet > 0) {
			return
		}
		if left := trimmed(readings, r, through); left < least {
			best, least = r, left
		}
	}
	for i, a := range readings {
		for j, b := range readings[:i] {
			dry, wet, wear := a.dryKm()-b.dryKm(), a.wetKm-b.wetKm, a.wear-b.wear
			try(rates{dry: wear / dry}, a)
			try(rates{wet: wear / wet}, a)
			for _, c := range readings[:j] {
				dryC, wetC, wearC := a.dryKm()-c.dryKm(), a.wetKm-c.wetKm, a.wear-c.wear
				if det := dry*wetC - dryC*wet; math.Abs(det) >= 1 { // km²; below it they lie on one line
					try(rates{(wear*wetC - wearC*wet) / det, (dry*wearC - dryC*wear) / det}, a)
				}
			}
		}
	}
	return best, !math.IsInf(least, 1)
}

// trimmed is the sum of the absolute errors that the plane with these rates through one reading leaves, the greatest of
// them left out.
func trimmed(readings []reading, r rates, through reading) float64 {
	sum, greatest := 0.0, [astray]float64{}
	for _, other := range readings {
		off := math.Abs(other.wear - through.wear - r.dry*(other.dryKm()-through.dryKm()) - r.wet*(other.wetKm-through.wetKm))
		sum += off
		for i := range greatest {
			if off > greatest[i] {
				off, greatest[i] = greatest[i], off
			}
		}
	}
	for _, off := range greatest {
		sum -= off
	}
	return sum
}

// uneven tells whether there is enough of both kinds of road between the first and the last reading, and whether wet
// roads came unevenly enough, by one reading more than may be astray.
func uneven(readings []reading) bool {
	first, last := readings[0], readings[len(readings)-1]
	wetKm, dryKm := last.wetKm-first.wetKm, last.dryKm()-first.dryKm()
	if wetKm < tellingKm || dryKm < tellingKm {
		return false
	}
	share := wetKm / (wetKm + dryKm)
	var off []float64
	for _, r := range readings {
		off = append(off, math.Abs(r.wetKm-first.wetKm-share*(r.km-first.km)))
	}
	slices.Sort(off)
	return off[len(off)-1-astray] >= tellingKm/2
}
