package placement

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// subset is a set of groups that run, with a lower bound on its cost.
type subset struct {
	set   uint32
	bound int64
}

// runsEarlier is the fixed order of sets: going through the groups, the set in
// which a group runs comes first.
func runsEarlier(a, b uint32) bool { return bits.Reverse32(a) > bits.Reverse32(b) }

// subsets lists the sets of groups that could run, by bound, then in fixed
// order. The bound is the Lagrangian of the relaxed flow: at its potentials,
// closing a group costs at least the step of each of its riders to the next
// place, less what the group's own limits were worth, and running it costs what
// its least size and its roles demand; these add up over the groups.
func (f *flow) subsets() []subset {
	shut, open := make([]int64, f.in.groups), make([]int64, f.in.groups)
	for g := range f.in.groups {
		shut[g], open[g] = f.shutPenalty(g), f.openPenalty(g)
	}
	h := f.heads()
	var list []subset
	for set := range uint32(1) << f.in.groups {
		bound := max(f.bound, h.bound(set))
		sum := f.bound
		for g := range f.in.groups {
			if set>>g&1 == 1 {
				sum = addTimes(sum, open[g], 1)
			} else {
				sum = addTimes(sum, shut[g], 1)
			}
		}
		if bound = max(bound, sum); bound < never {
			list = append(list, subset{set, bound})
		}
	}
	slices.SortFunc(list, func(a, b subset) int {
		if c := cmp.Compare(a.bound, b.bound); c != 0 {
			return c
		}
		return cmp.Compare(bits.Reverse32(b.set), bits.Reverse32(a.set))
	})
	return list
}

// never is the bound of what cannot be.
const never = math.MaxInt64 / 4

// heads is what there is to count.
type heads struct {
	in      *instance
	leaders int   // riders who may lead some group
	leave   int64 // the least cost of leaving a rider out
}

func (f *flow) heads() heads { return heads{f.in, f.leaders(), f.leastLeave()} }

// bound bounds a set by counting heads: least sizes, roles, and riders for whom
// there is no room.
func (h heads) bound(set uint32) int64 {
	room, least, roles := 0, 0, 0
	for g, q := range h.in.quota {
		if set>>g&1 == 0 {
			if q.must {
				return never
			}
			continue
		}
		if q.never {
			return never
		}
		room += q.max
		least += q.min
		if q.lead {
			roles++
		}
	}
	short := h.in.riders - room
	switch {
	case least > h.in.riders, roles > h.leaders, short > 0 && h.in.mustRide:
		return never
	case short > 0:
		return int64(short) * h.leave
	}
	return 0
}

// leaders counts the riders who may lead some group.
func (f *flow) leaders() int {
	var leadPlaces places
	for g := range f.in.groups {
		leadPlaces |= place(g, lead)
	}
	n := 0
	for _, s := range f.in.allow {
		if s&leadPlaces != 0 {
			n++
		}
	}
	return n
}

// leastLeave is the least cost of leaving a rider out.
func (f *flow) leastLeave() int64 {
	least := int64(never)
	for r := range f.in.riders {
		least = min(least, f.in.costAt(r, f.in.out()))
	}
	return least
}

// shutPenalty is what the bound gains at least when a group does not run.
func (f *flow) shutPenalty(g int) int64 {
	var sum int64
	for r := range f.at {
		if f.groupAt(r) != g {
			continue
		}
		row := f.in.cost[r*(f.in.groups+1):]
		next := int64(never)
		for s := f.allow[r] &^ groupPlaces(g); s != 0; s &= s - 1 {
			p := s.first()
			next = min(next, row[p/kinds]-f.pot[p])
		}
		if next == never {
			return never
		}
		sum += next - (row[g] - f.pot[f.at[r]])
	}
	f.eachArc(g, func(v int, reduced int64) {
		sum = addTimes(sum, -reduced, f.pass[v])
	})
	return min(sum, never)
}

// openPenalty is what the bound gains when a group must run.
func (f *flow) openPenalty(g int) int64 {
	var sum int64
	q := f.in.quota[g]
	f.eachArc(g, func(v int, reduced int64) {
		if reduced <= 0 {
			return
		}
		switch {
		case v == f.in.out()+1+g:
			sum = addTimes(sum, reduced, q.min-f.lo[v])
		case v%kinds == lead && q.lead, v%kinds == mark && q.mark:
			sum = addTimes(sum, reduced, 1-f.lo[v])
		}
	})
	return min(sum, never)
}

// eachArc calls f for the arcs out of a group's places and out of the group.
func (f *flow) eachArc(g int, do func(v int, reduced int64)) {
	group := f.in.out() + 1 + g
	for v := kinds * g; v < kinds*(g+1); v++ {
		do(v, f.pot[v]-f.pot[group])
	}
	do(group, f.pot[group]-f.pot[f.finish()])
}
