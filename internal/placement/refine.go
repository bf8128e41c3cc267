package placement

import "slices"

// refine settles ties between riders: going through them in order, each goes to
// the earliest group that still allows an answer as good as the best, in the
// same set of running groups. It spends at most budget nodes; false means it ran
// out and the rest stay as found.
func (s *search) refine(budget int) bool {
	f := newFlow(s.in)
	f.copyFrom(s.root)
	f.run(s.best.set)
	if !f.settle() || f.optimise(s.best.cost) != optimal {
		return false // cannot be: the best answer is one of these
	}
	s.set, s.limit = s.best.set, s.nodes+budget
	lost := s.lost // what is left unsearched from here on is tied, not better
	defer func() { s.lost = lost }()
	done := make([]bool, len(s.in.units))
	for r := range s.in.riders {
		u := s.in.unitOf[r]
		if done[u] {
			continue
		}
		done[u] = true
		more := f.detours(u, s.best.group[r], s.best.cost)
		for g := range s.best.group[r] {
			if more[g] <= s.best.cost-f.bound && s.tryTie(f, u, g) {
				break
			}
			if s.stopped() {
				return false
			}
		}
		if f.fix(u, s.best.group[r]); !f.settle() || f.optimise(s.best.cost) != optimal {
			return false // cannot be, as above
		}
	}
	return true
}

// tryTie looks for an answer as good as the best with a unit in another group,
// and makes it the best.
func (s *search) tryTie(f *flow, u, g int) bool {
	st := s.depth(0)
	st.copyFrom(f)
	st.fix(u, g)
	s.cut = s.best.cost
	if st.settle() {
		s.branch(0)
	}
	return s.best.group[s.in.units[u][0]] == g
}

// detours is, for each group before one, what the flow costs more at least with a
// unit in it. A group is looked at closely only as long as the total may stay
// within most: then the cost for each of its riders is that of the shortest way
// by which the flow makes up for the rider.
func (f *flow) detours(u, before int, most int64) [MaxGroups]int64 {
	var more [MaxGroups]int64
	for _, r := range f.in.units[u] {
		for g := range before {
			more[g] = addTimes(more[g], f.detour(r, g, nil), 1)
		}
	}
	for _, r := range f.in.units[u] {
		if !slices.ContainsFunc(more[:before], func(m int64) bool { return m <= most-f.bound }) {
			return more
		}
		f.waysTo(int(f.at[r]))
		for g := range before {
			more[g] = max(more[g], f.detour(r, g, f.path.dist))
		}
	}
	return more
}

// detour is what it costs at least to put a rider in a group instead, given how
// far each place is from the rider's own, or nil.
func (f *flow) detour(r, g int, far []int64) int64 {
	row := f.in.cost[r*(f.in.groups+1):]
	least := int64(never)
	for s := f.allow[r] & f.in.placesOf(g); s != 0; s &= s - 1 {
		p := s.first()
		cost := row[g] - f.pot[p]
		if far != nil {
			cost = addTimes(cost, far[p], 1)
		}
		least = min(least, cost)
	}
	if least >= never {
		return never
	}
	return max(0, least-(row[f.groupAt(r)]-f.pot[f.at[r]]))
}
