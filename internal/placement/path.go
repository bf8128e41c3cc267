package placement

import "math"

// pathFinder is scratch space for Dijkstra's algorithm over the nodes.
type pathFinder struct {
	dist []int64
	done []bool
	from []int16 // previous node on the shortest path
}

func newPathFinder(nodes int) pathFinder {
	return pathFinder{dist: make([]int64, nodes), done: make([]bool, nodes), from: make([]int16, nodes)}
}

// outcome is how a flow ended.
type outcome int

const (
	optimal    outcome = iota // balanced: the least cost
	cutOff                    // every feasible flow costs more than the cut
	infeasible                // there is no feasible flow
)

// optimise sends excess to where it is lacking along shortest paths until all
// balances, or until the bound exceeds the cut.
func (f *flow) optimise(cut int64) outcome {
	total := 0
	for _, e := range f.excess {
		total += max(0, e)
	}
	for ; total > 0; total-- {
		if f.bound > cut {
			return cutOff
		}
		end := f.shortest()
		if end == nobody {
			return infeasible
		}
		d := f.path.dist[end]
		for v := range f.pot {
			f.pot[v] += min(d, f.path.dist[v])
		}
		f.bound = addTimes(f.bound, d, total)
		f.augment(end)
	}
	if f.bound > cut {
		return cutOff
	}
	f.level()
	return optimal
}

// level shifts all potentials so that the finish has 0: reduced costs stay the
// same, and the numbers do not drift from one flow to the next.
func (f *flow) level() {
	base := f.pot[f.finish()]
	for v := range f.pot {
		f.pot[v] -= base
	}
}

// shortest finds the node lacking riders that is nearest, in reduced cost, to
// any node with too many; nobody if none can be reached.
func (f *flow) shortest() int {
	s := &f.path
	for v := range s.dist {
		s.dist[v], s.done[v] = math.MaxInt64, false
		if f.excess[v] > 0 {
			s.dist[v], s.from[v] = 0, nobody
		}
	}
	for {
		u, near := nobody, int64(math.MaxInt64)
		for v, d := range s.dist {
			if d < near && !s.done[v] {
				u, near = v, d
			}
		}
		if u == nobody || f.excess[u] < 0 {
			return u
		}
		s.done[u] = true
		f.scan(u)
	}
}

// scan looks along every residual arc out of a node.
func (f *flow) scan(u int) {
	groups := f.in.out() + 1
	if u < groups { // a place: move a rider elsewhere
		movers := f.crowd.mover[u*groups : (u+1)*groups]
		costs := f.crowd.moveCost[u*groups : (u+1)*groups]
		base := f.path.dist[u] + f.pot[u]
		for v, r := range movers {
			if r == nobody {
				continue
			}
			if d := base + costs[v] - f.pot[v]; d < f.path.dist[v] {
				f.path.dist[v], f.path.from[v] = d, int16(u)
			}
		}
	}
	switch { // take back what a child passed on
	case u == f.finish():
		for v := f.in.out(); v < u; v++ {
			f.takeBack(u, v)
		}
	case u >= groups:
		for v := kinds * (u - groups); v < kinds*(u-groups+1); v++ {
			f.takeBack(u, v)
		}
	}
	if u != f.finish() && f.pass[u] < f.hi[u] {
		f.reach(u, f.parent(u))
	}
}

func (f *flow) takeBack(u, child int) {
	if f.pass[child] > f.lo[child] {
		f.reach(u, child)
	}
}

func (f *flow) reach(u, v int) {
	if d := f.path.dist[u] + f.pot[u] - f.pot[v]; d < f.path.dist[v] {
		f.path.dist[v], f.path.from[v] = d, int16(u)
	}
}

// waysTo finds how far every node is from a place, in reduced cost, along residual
// arcs that lead to it.
func (f *flow) waysTo(p int) {
	s := &f.path
	for v := range s.dist {
		s.dist[v], s.done[v] = math.MaxInt64, false
	}
	s.dist[p] = 0
	for {
		u, near := nobody, int64(math.MaxInt64)
		for v, d := range s.dist {
			if d < near && !s.done[v] {
				u, near = v, d
			}
		}
		if u == nobody {
			return
		}
		s.done[u] = true
		f.scanBack(u)
	}
}

// scanBack looks along every residual arc into a node.
func (f *flow) scanBack(u int) {
	groups := f.in.out() + 1
	from := func(v int, cost int64) {
		if d := f.path.dist[u] + cost + f.pot[v] - f.pot[u]; d < f.path.dist[v] {
			f.path.dist[v] = d
		}
	}
	sent := func(v int) {
		if f.pass[v] < f.hi[v] {
			from(v, 0)
		}
	}
	if u < groups {
		for v := range groups {
			if i := v*groups + u; f.crowd.mover[i] != nobody {
				from(v, f.crowd.moveCost[i])
			}
		}
	}
	switch {
	case u == f.finish():
		for v := f.in.out(); v < u; v++ {
			sent(v)
		}
	case u >= groups:
		for v := kinds * (u - groups); v < kinds*(u-groups+1); v++ {
			sent(v)
		}
	}
	if u != f.finish() && f.pass[u] > f.lo[u] { // what it passed on is taken back
		from(f.parent(u), 0)
	}
}

// augment sends one unit along the path found.
func (f *flow) augment(end int) {
	f.excess[end]++
	v := end
	for f.path.from[v] != nobody {
		u := int(f.path.from[v])
		out := f.in.out()
		switch {
		case u <= out && v <= out:
			r := int(f.crowd.mover[u*(out+1)+v])
			f.crowd.leave(f, r, u, f.allow[r])
			f.at[r] = uint8(v)
			f.crowd.enter(f, r, v)
		case f.parent(u) == v:
			f.pass[u]++
		default:
			f.pass[v]--
		}
		v = u
	}
	f.excess[v]--
}
