package placement

// relax starts the flow with every group undecided: it may hold any number up to
// its most, led or not.
func (f *flow) relax() {
	copy(f.allow, f.in.allow)
	for r := range f.at {
		f.at[r] = nowhere
	}
	for v := range f.finish() {
		f.pot[v], f.lo[v], f.hi[v] = 0, 0, f.in.riders
	}
	for g := range f.in.groups {
		f.limit(g, 0)
	}
	f.dead = false
	f.seatAll()
}

// limit sets the limits of an undecided or running group.
func (f *flow) limit(g, min int) {
	q, v := &f.in.quota[g], kinds*g
	role := 0
	if min > 0 {
		role = 1
	}
	f.lo[v+lead], f.hi[v+lead] = 0, 0
	if q.lead {
		f.lo[v+lead], f.hi[v+lead] = role, 1
	}
	f.lo[v+mark], f.hi[v+mark] = 0, 0
	if q.mark {
		f.lo[v+mark], f.hi[v+mark] = role, 1
	}
	f.hi[v+back] = q.back
	group := f.in.out() + 1 + g
	f.lo[group], f.hi[group] = min, q.max
}

// run decides every group: those in the set run, the others do not.
func (f *flow) run(set uint32) {
	var shut places
	for g := range f.in.groups {
		if set>>g&1 == 1 {
			f.limit(g, f.in.quota[g].min)
			continue
		}
		shut |= groupPlaces(g)
		for k := range kinds {
			f.lo[kinds*g+k], f.hi[kinds*g+k] = 0, 0
		}
		f.lo[f.in.out()+1+g], f.hi[f.in.out()+1+g] = 0, 0
	}
	for r := range f.allow {
		f.allow[r] &^= shut
	}
	for g, q := range f.in.quota {
		if set>>g&1 == 1 && q.namedLead != nobody {
			f.allow[q.namedLead] &= place(g, lead)
		}
		if set>>g&1 == 1 && q.namedMark != nobody {
			f.allow[q.namedMark] &= place(g, mark)
		}
	}
	f.seatAll()
}
