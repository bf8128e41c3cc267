package placement

import (
	"math"
	"math/big"
	"slices"
)

// lacks reports whether what must not be is in the basis.
func (x *mix) lacks() bool {
	for i := range x.basis {
		if b := &x.basis[i]; (b.lacks || b.way.bad) && x.x[i] > 1e-6 {
			return true
		}
	}
	for c := range x.key {
		if x.key[c].bad && x.keyShare(c) > 1e-6 {
			return true
		}
	}
	return false
}

// keyShare is how much of a company is in its key way.
func (x *mix) keyShare(c int) float64 {
	left := 1.0
	for i := range x.basis {
		if x.basis[i].company == c {
			left -= x.x[i]
		}
	}
	return left
}

// freePenalty is the penalty where everything else is free, in parts.
const freePenalty = 1 << 20

// impossible finds out, with all costs taken away, whether a mix is possible at all,
// and closes it if not.
func (b *blend) impossible(x *mix) (Case, bool) {
	of, penalty := b.of, x.penalty
	of.free, of.unitCost, x.penalty = true, make([]int64, len(of.trueCost)), freePenalty
	x.optimise(nil)
	bound, prices := of.bound(x.may, x.prices), slices.Clone(x.prices)
	of.free, of.unitCost, x.penalty = false, of.trueCost, penalty
	if bound != nil && bound.Cmp(big.NewInt(1)) < 0 {
		return Case{}, false
	}
	if b.note == nil {
		return Case{}, true
	}
	closed := b.note(Prices{Per: 1, Groups: prices})
	closed.Split = ByRay
	return closed, true
}

// keepWithin holds a price to what can be added up exactly.
func (m *mixing) keepWithin(v float64) int64 {
	most := float64(m.most)
	return int64(math.Round(max(-most, min(most, v))))
}
