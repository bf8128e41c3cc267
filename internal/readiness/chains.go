package readiness

import "math/bits"

// maxLamps is the most lamps that are reckoned with. A declaration holds no more; of more the first count.
const maxLamps = 12

// tolerance is how much run-time, min, may be missing through rounding of sums: a millionth of a minute.
const tolerance = 1e-6

// source is one lamp as a store of light.
type source struct {
	minutes float64 // how long it lasts; +Inf for a dynamo
	steady  bool
}

// coverage is what lamps of one end, used one after the other, can do: so many chains that each last long enough, and
// the minutes of the best that is left towards one more.
type coverage struct {
	chains  int
	partial float64
}

// more tells whether a does more than b.
func (a coverage) more(b coverage) bool {
	return a.chains > b.chains || a.chains == b.chains && a.partial > b.partial
}

// cover finds the best coverage for every subset of the lamps, the subset being the bits of the index, when a chain has
// to last need minutes.
//
// It is exact. The best for a set ends with some lamp: either that lamp completes a chain, or it adds to the open one.
// More chains, then more minutes in the open chain, is never worse to go on from: an open chain is shorter than need,
// so it is worth less than one chain more. 12 lamps are 4,096 sets. best is room for the result, made where too small; it
// must be all zero.
func cover(best []coverage, lamps []source, need float64) []coverage {
	if 1<<len(lamps) > len(best) {
		best = make([]coverage, 1<<len(lamps))
	}
	best = best[:1<<len(lamps)]
	for set := 1; set < len(best); set++ {
		for rest := set; rest != 0; rest &= rest - 1 {
			last := bits.TrailingZeros(uint(rest))
			got := best[set&^(1<<last)]
			if got.partial+lamps[last].minutes >= need-tolerance {
				got = coverage{chains: got.chains + 1}
			} else {
				got.partial += lamps[last].minutes
			}
			if got.more(best[set]) {
				best[set] = got
			}
		}
	}
	return best
}

// lasts tells how many of the chains wanted the lamps make, each need minutes long, and what is left towards one more.
// With steady at least one chain must be of steady lamps alone, so that a steady lamp shines all the time.
func lasts(lamps []source, want int, need float64, steady bool) coverage {
	lamps = lamps[:min(len(lamps), maxLamps)]
	var room [1 << 4]coverage
	best := cover(room[:], lamps, need)
	all := len(best) - 1
	if !steady || want == 0 {
		return best[all]
	}
	steadies := 0
	for i, lamp := range lamps {
		if lamp.steady {
			steadies |= 1 << i
		}
	}
	var result coverage
	if best[steadies].chains == 0 { // one chain is missing whatever the others do; the steady lamps are part of it
		return coverage{chains: min(best[all].chains, want-1), partial: best[steadies].partial}
	}
	for set := steadies; set != 0; set = (set - 1) & steadies {
		got := best[all&^set]
		got.chains++
		if best[set].chains > 0 && got.more(result) {
			result = got
		}
	}
	return result
}
