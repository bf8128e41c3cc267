package placement

// nowhere is a place that nobody is allowed at.
const nowhere = 63

// flow is a minimum-cost flow in the making: every rider is at one place, each
// place passes riders on to its group, each group to the finish. It keeps node
// potentials under which every residual arc has a reduced cost of at least 0,
// so bound is at all times a lower bound on the cost of any feasible flow.
//
// Nodes: places 0..out, then groups, then the finish.
type flow struct {
	in       *instance
	at       []uint8  // place of each rider
	allow    []places // where each rider may be; only ever narrowed
	roleBack []uint8  // per group: bit set of roles kept to riders of standing Back
	crowd    crowd    // who is at each place, and the cheapest moves
	pot      []int64  // per node
	pass     []int    // flow on the arc from the node to its parent
	lo, hi   []int    // its limits
	excess   []int    // inflow less outflow
	bound    int64
	dead     bool // a rider has no place left
	stale    bool // limits or costs changed: settle must count anew
	path     pathFinder
	ways     []int    // scratch of groupsFor
	list     []choice // scratch of choices
}

func newFlow(in *instance) *flow {
	nodes := in.out() + 1 + in.groups + 1
	ints := make([]int, 4*nodes)
	return &flow{
		in:       in,
		at:       make([]uint8, in.riders),
		allow:    make([]places, in.riders),
		roleBack: make([]uint8, in.groups),
		crowd:    newCrowd(in.riders, in.out()+1),
		pot:      make([]int64, nodes),
		pass:     ints[:nodes:nodes],
		lo:       ints[nodes : 2*nodes : 2*nodes],
		hi:       ints[2*nodes : 3*nodes : 3*nodes],
		excess:   ints[3*nodes:],
		path:     newPathFinder(nodes),
	}
}

// copyFrom makes f the same as src, which is balanced.
func (f *flow) copyFrom(src *flow) {
	f.in = src.in
	copy(f.at, src.at)
	copy(f.allow, src.allow)
	copy(f.roleBack, src.roleBack)
	f.crowd.copyFrom(&src.crowd)
	copy(f.pot, src.pot)
	copy(f.pass, src.pass)
	copy(f.lo, src.lo)
	copy(f.hi, src.hi)
	clear(f.excess)
	f.bound, f.dead, f.stale = src.bound, src.dead, false
}

func (f *flow) finish() int { return len(f.pot) - 1 }

// parent is the node a place or group passes its riders to.
func (f *flow) parent(v int) int {
	if v < f.in.out() {
		return f.in.out() + 1 + v/kinds
	}
	return f.finish()
}

// seatAll moves riders who may not be where they are, and rebuilds the crowd.
func (f *flow) seatAll() {
	f.stale = true
	for r, s := range f.allow {
		if s == 0 {
			f.dead = true
			return
		}
		if s>>f.at[r]&1 == 0 {
			f.at[r] = uint8(f.cheapest(r))
		}
	}
	f.crowd.rebuild(f)
}

// narrow leaves a rider only the places in a set.
func (f *flow) narrow(r int, to places) {
	if f.dead || f.allow[r]&^to == 0 {
		return
	}
	p, lost := int(f.at[r]), f.allow[r]&^to
	f.allow[r] &= to
	if f.allow[r]>>p&1 == 1 {
		if best := f.cheapest(r); f.in.costAt(r, best)-f.pot[best] >= f.in.costAt(r, p)-f.pot[p] {
			f.crowd.withdraw(f, r, p, lost)
			return
		}
	}
	f.crowd.leave(f, r, p, f.allow[r]|lost)
	f.reseat(r)
}

// reseat puts a rider who has left the crowd back into it, at the cheapest place
// unless the present one is allowed and as cheap.
func (f *flow) reseat(r int) {
	if f.allow[r] == 0 {
		f.dead = true
		return
	}
	best, p := f.cheapest(r), int(f.at[r])
	if f.allow[r]>>p&1 == 0 || f.in.costAt(r, best)-f.pot[best] < f.in.costAt(r, p)-f.pot[p] {
		p = best
	}
	if old := int(f.at[r]); old != p {
		f.excess[old]--
		f.excess[p]++
		f.bound += f.in.costAt(r, p) - f.pot[p] - f.in.costAt(r, old) + f.pot[old]
		f.at[r] = uint8(p)
	}
	f.crowd.enter(f, r, p)
}

// groupAt is the group a rider is in; in.groups when left out.
func (f *flow) groupAt(r int) int { return f.in.groupOf(int(f.at[r])) }
