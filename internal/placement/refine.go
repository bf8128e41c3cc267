package placement

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
		for g := range s.best.group[r] {
			if s.tryTie(f, u, g) {
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
	for _, r := range s.in.units[u] {
		if f.bound+f.detour(r, g) > s.best.cost {
			return false
		}
	}
	st := s.depth(0)
	st.copyFrom(f)
	st.fix(u, g)
	s.cut = s.best.cost
	if st.settle() {
		s.branch(0)
	}
	return s.best.group[s.in.units[u][0]] == g
}

// detour is what it costs at least to put a rider in a group instead.
func (f *flow) detour(r, g int) int64 {
	row := f.in.cost[r*(f.in.groups+1):]
	least := int64(never)
	for s := f.allow[r] & f.in.placesOf(g); s != 0; s &= s - 1 {
		p := s.first()
		least = min(least, row[g]-f.pot[p])
	}
	if least == never {
		return never
	}
	return max(0, least-(row[f.groupAt(r)]-f.pot[f.at[r]]))
}
