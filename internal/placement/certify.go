package placement

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Certify gives the certificate of a result of [Solve] for the same problem: that
// no placement is better than its bound, or that there is none. It searches again with the bound known,
// which visits no more than the first search did.
func Certify(ctx context.Context, p Problem, r Result) (Certificate, error) {
	if err := validate(p); err != nil {
		return Certificate{}, err
	}
	if r.Infeasible && !r.Proven {
		return Certificate{}, errors.New("placement: the search met its limit before it found a placement: there is nothing to certify")
	}
	m := newModel(p)
	loose := m.instance()
	c := &certifier{m: m}
	c.out.Scale = Scale{Unplaced: m.weights.unplaced, Discomfort: m.weights.discomfort, Preference: m.weights.preference}
	if c.out.Claim = m.weights.cost(r.Bound); r.Infeasible {
		c.out.Claim = never
	}
	c.zero = c.prices(make([]GroupPrices, loose.groups))
	in, juniors := loose, []int(nil)
	if !r.Infeasible && r.Objective.Placed >= loose.placeable() {
		in, juniors = loose.allTied()
	}
	c.search = newSearch(ctx, in, math.MaxInt)
	c.search.cut = c.out.Claim - 1
	c.out.Root = c.root()
	for i := len(juniors) - 1; i >= 0; i-- { // to leave one of them out is to place fewer
		c.out.Root = Case{Split: ByJunior, Rider: m.p.Riders[juniors[i]].ID, Cases: []Case{c.out.Root, c.zero}}
	}
	if c.search.err != nil {
		return Certificate{}, fmt.Errorf("placement: stopped before the certificate was complete; allow more time: %w", c.search.err)
	}
	return c.out, c.err
}

// cost is the cost of an objective.
func (w weights) cost(o Objective) int64 {
	return int64(w.riders-o.Placed)*w.unplaced + int64(o.Discomfort)*w.discomfort +
		int64(w.preferences-o.PreferencesMet)*w.preference + int64(o.Moves)
}

// certifier walks the tree of the search and notes why each branch ends.
type certifier struct {
	m          *model
	search     *search
	out        Certificate
	zero       Case // closed by prices of 0
	root0      Case // closed by the prices of the root
	shut, open []int64
	heads      heads
	err        error
}

// root splits by which groups run.
func (c *certifier) root() Case {
	f := c.search.root
	f.relax()
	if !f.settle() {
		return Case{Split: Impossible}
	}
	if f.optimise(never) != optimal {
		return c.ray(f)
	}
	c.root0, c.heads = c.prices(f.prices()), f.heads()
	for g := range f.in.groups {
		c.shut, c.open = append(c.shut, f.shutPenalty(g)), append(c.open, f.openPenalty(g))
	}
	return c.running(0, 0, f.bound)
}

// running decides the groups from g on, one at a time, as long as the bound of
// the root leaves room.
func (c *certifier) running(g int, set uint32, bound int64) Case {
	f := c.search.root
	if bound > c.search.cut {
		return c.root0
	}
	if g < f.in.groups {
		return Case{Split: ByRunning, Group: c.m.p.Groups[g].ID, Cases: []Case{
			c.running(g+1, set|1<<g, addTimes(bound, c.open[g], 1)),
			c.running(g+1, set, addTimes(bound, c.shut[g], 1)),
		}}
	}
	if c.heads.bound(set) > c.search.cut {
		return c.counted(set)
	}
	st := c.search.depth(0)
	st.copyFrom(f)
	st.run(set)
	if !st.settle() {
		return Case{Split: Impossible}
	}
	return c.set(st, set)
}

// set closes a set of groups, whose flow is at depth 0: by the flow, as long as that
// does not take too long, as the search does.
func (c *certifier) set(st *flow, set uint32) Case {
	s, noted := c.search, len(c.out.Prices)
	s.limit = s.nodes + flowNodes
	closed := c.branch(0)
	stopped := s.nodes >= s.limit
	if s.limit = math.MaxInt; !stopped || c.err != nil {
		return closed
	}
	c.out.Prices = c.out.Prices[:noted]
	st.copyFrom(s.root)
	if st.run(set); !st.settle() || st.optimise(s.cut) != optimal {
		return Case{} // cannot be: the flow was split
	}
	b := &blend{s: s, w: c.m.weights, note: c.note, riders: c.m.p.Riders}
	if closed = b.set(st, set); b.lost {
		c.err = errNotBest
	}
	return closed
}

var errNotBest = errors.New("placement: the result is not the best for this problem: certify what Solve returned for it, unchanged")

// branch closes or splits the flow at a depth, as the search does.
func (c *certifier) branch(d int) Case {
	s, f := c.search, c.search.depth(d)
	if s.stopped() {
		return Case{}
	}
	s.nodes++
	switch f.optimise(s.cut) {
	case cutOff:
		return c.prices(f.prices())
	case infeasible:
		return c.ray(f)
	}
	fault := f.fault()
	if fault.kind == sound {
		c.err = errNotBest
		return Case{}
	}
	split, slots := c.split(f, fault)
	child := s.depth(d + 1)
	for i, choice := range f.choices(fault) {
		child.copyFrom(f)
		child.choose(choice)
		if child.settle() {
			split.Cases[slots[i]] = c.branch(d + 1)
		}
		if c.err != nil {
			return Case{}
		}
	}
	return split
}

// split describes how a fault is mended, and the case of each choice.
func (c *certifier) split(f *flow, x fault) (Case, []int) {
	switch x.kind {
	case overBack:
		kind := ByLeader
		if x.role == mark {
			kind = ByBackMarker
		}
		return Case{Split: kind, Group: c.m.p.Groups[x.group].ID, Cases: make([]Case, 2)}, []int{1, 0}
	case apart:
		return Case{Split: ByJunior, Rider: c.m.p.Riders[f.in.links[x.link].rider].ID, Cases: make([]Case, 2)}, []int{0, 1}
	}
	rider := c.m.p.Riders[f.in.units[x.unit][0]].ID
	return Case{Split: ByGroup, Rider: rider, Cases: make([]Case, f.in.groups+1)}, slices.Clone(f.groupsFor(x.unit))
}

// prices notes prices and the case they close.
func (c *certifier) prices(p []GroupPrices) Case { return c.note(Prices{Per: 1, Groups: p}) }

func (c *certifier) note(p Prices) Case {
	c.out.Prices = append(c.out.Prices, p)
	return Case{Split: ByPrices, Prices: len(c.out.Prices) - 1}
}

// ray closes the case of a flow that is not feasible: the nodes out of reach of
// those with too many riders are a cut with too little room.
func (c *certifier) ray(f *flow) Case {
	cut := make([]int64, len(f.pot))
	for v, d := range f.path.dist {
		if d == math.MaxInt64 {
			cut[v] = 1
		}
	}
	closed := c.prices(f.pricesAt(cut))
	closed.Split = ByRay
	return closed
}

// counted closes a set of groups that a count of heads rules out.
func (c *certifier) counted(set uint32) Case {
	f := c.search.root
	p := make([]GroupPrices, f.in.groups)
	room, least := 0, 0
	for g, q := range f.in.quota {
		runs := set>>g&1 == 1
		if !runs && !q.must {
			continue
		}
		if !runs || q.never {
			return Case{Split: Impossible}
		}
		room, least = room+q.max, least+q.min
		p[g].Size = -1
	}
	switch {
	case least > f.in.riders:
		closed := c.prices(p)
		closed.Split = ByRay
		return closed
	case room < f.in.riders && addTimes(0, c.heads.leave, f.in.riders-room) > c.search.cut:
		for g := range p {
			p[g].Size = -p[g].Size * c.heads.leave
		}
		return c.prices(p)
	}
	for g, q := range f.in.quota { // too few leaders
		p[g] = GroupPrices{}
		if set>>g&1 == 1 && q.lead {
			p[g].Lead = -1
		}
	}
	closed := c.prices(p)
	closed.Split = ByRay
	return closed
}

// prices are the potentials of a flow as prices.
func (f *flow) prices() []GroupPrices { return f.pricesAt(f.pot) }

// pricesAt turns potentials into prices. A place set aside at the back for a
// role is paid for by the rider who fills the role.
func (f *flow) pricesAt(pot []int64) []GroupPrices {
	p := make([]GroupPrices, f.in.groups)
	for g := range p {
		at, group := kinds*g, pot[f.in.out()+1+g]
		p[g] = GroupPrices{
			Size: pot[f.finish()] - group,
			Back: max(0, group-pot[at+back]),
			Lead: group - pot[at+lead],
			Mark: group - pot[at+mark],
		}
		if f.roleBack[g]>>lead&1 == 1 {
			p[g].Lead -= p[g].Back
		}
		if f.roleBack[g]>>mark&1 == 1 {
			p[g].Mark -= p[g].Back
		}
	}
	return p
}
