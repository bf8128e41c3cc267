package placement

import (
	"math"
	"math/bits"
)

// cheapest is the allowed place with the least reduced cost for a rider.
func (f *flow) cheapest(r int) int {
	best, at := int64(math.MaxInt64), 0
	row := f.in.cost[r*(f.in.groups+1):]
	for s := f.allow[r]; s != 0; s &= s - 1 {
		p := s.first()
		if c := row[p/kinds] - f.pot[p]; c < best {
			best, at = c, p
		}
	}
	return at
}

// settle makes the flow keep to lo and hi, and to where the riders are, after
// these changed, leaving the potentials alone: every reduced cost stays at least
// 0 and what no longer balances shows up as excess. Narrowing where riders may be
// keeps count by itself. It returns false when a
// rider has no place left or limits contradict each other.
func (f *flow) settle() bool {
	if f.dead || !f.stale {
		return !f.dead
	}
	f.stale = false
	for v := range f.excess {
		f.excess[v] = 0
	}
	finish := f.finish()
	f.bound = 0
	for r := range f.at {
		p := int(f.at[r])
		f.excess[p]++
		f.bound += f.in.costAt(r, p) - f.pot[p]
	}
	f.bound = addTimes(f.bound, f.pot[finish], f.in.riders)
	for v := range finish {
		w := f.parent(v)
		reduced := f.pot[v] - f.pot[w]
		switch {
		case f.hi[v] < f.lo[v]:
			return false
		case reduced > 0:
			f.pass[v] = f.lo[v]
		case reduced < 0:
			f.pass[v] = f.hi[v]
		default:
			f.pass[v] = min(max(f.excess[v], f.lo[v]), f.hi[v])
		}
		f.bound = addTimes(f.bound, reduced, f.pass[v])
		f.excess[v] -= f.pass[v]
		f.excess[w] += f.pass[v]
	}
	f.excess[finish] -= f.in.riders
	return true
}

// addTimes is a + b·n, held at the ends of the range instead of wrapping.
func addTimes(a, b int64, n int) int64 {
	neg := b < 0
	if neg {
		b = -b
	}
	hi, lo := bits.Mul64(uint64(b), uint64(n))
	if hi != 0 || lo > math.MaxInt64/4 {
		lo = math.MaxInt64 / 4
	}
	if neg {
		return max(a-int64(lo), -math.MaxInt64/2)
	}
	return min(a+int64(lo), math.MaxInt64/2)
}
