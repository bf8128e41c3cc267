package placement

import (
	"context"
	"math"
)

// search looks for the cheapest placement of an instance.
type search struct {
	ctx      context.Context
	in       *instance
	root     *flow   // every group undecided
	pool     []*flow // one per depth
	cut      int64   // only answers of at most this cost count
	set      uint32  // groups that run in the branch being searched
	best     answer
	lost     int64 // least bound of what was left unsearched
	nodes    int
	limit    int
	err      error  // of the context
	blend    *blend // for the sets that take too long, if any
	patience int    // how many nodes the flow gets for a set
	blended  bool   // a set did
	hasty    bool   // any answer will do
}

// flowNodes is how many nodes are spent on a set of groups before it is blended.
const flowNodes = 400

// blendedTies is how many nodes are spent on ties where the flow could not prove the
// best answer: it seldom settles them then.
const blendedTies = 1000

// answer is a placement: the group of each rider, in.groups when left out.
type answer struct {
	found bool
	group []int
	set   uint32
	cost  int64
}

func newSearch(ctx context.Context, in *instance, limit int) *search {
	return &search{ctx: ctx, in: in, root: newFlow(in), limit: limit, patience: flowNodes, lost: math.MaxInt64,
		best: answer{group: make([]int, in.riders), cost: never}}
}

// run finds the best answer. Sets of groups that cost the same are told apart by
// their fixed order.
func (s *search) run() {
	s.root.relax()
	if !s.root.settle() || s.root.optimise(never) != optimal {
		return
	}
	st := s.depth(0)
	for _, sub := range s.root.subsets() {
		if sub.bound > s.best.cost || s.enough() {
			return
		}
		s.cut = s.best.cost - 1
		if !s.best.found || runsEarlier(sub.set, s.best.set) {
			s.cut = s.best.cost
		}
		if sub.bound > s.cut {
			continue
		}
		if s.stopped() {
			s.lost = min(s.lost, sub.bound)
			return
		}
		s.set = sub.set
		st.copyFrom(s.root)
		st.run(sub.set)
		if st.settle() {
			s.searchSet(st)
		}
	}
}

// searchSet searches one set of groups, whose flow is at depth 0: by the flow, as
// long as that does not take too long.
func (s *search) searchSet(st *flow) {
	if s.blend == nil {
		s.branch(0)
		return
	}
	lost, limit := s.lost, s.limit
	s.limit = min(limit, s.nodes+s.patience)
	s.branch(0)
	stopped := s.nodes >= s.limit && s.lost < lost
	s.limit = limit
	if !stopped || s.stopped() {
		return
	}
	s.lost = lost
	st.copyFrom(s.root)
	st.run(s.set)
	if st.settle() && st.optimise(s.cut) == optimal {
		s.blended = true
		s.blend.set(st, s.set)
	}
}

// depth returns the scratch flow of a depth of the search.
func (s *search) depth(d int) *flow {
	for len(s.pool) <= d {
		s.pool = append(s.pool, newFlow(s.in))
	}
	return s.pool[d]
}

// stopped reports whether the search must end.
func (s *search) stopped() bool {
	if s.err == nil {
		s.err = s.ctx.Err()
	}
	return s.err != nil || s.nodes >= s.limit
}

// enough reports whether the search has what it was after.
func (s *search) enough() bool { return s.hasty && s.best.found }

// bound is what no answer can cost less than.
func (s *search) bound() int64 { return min(s.lost, s.best.cost) }

// branch searches everything the flow at a depth allows.
func (s *search) branch(d int) {
	f := s.depth(d)
	if s.stopped() {
		s.lost = min(s.lost, f.bound)
		return
	}
	s.nodes++
	if f.optimise(s.cut) != optimal {
		return
	}
	fault := f.fault()
	if fault.kind == sound {
		s.record(f)
		return
	}
	child := s.depth(d + 1)
	for _, choice := range f.choices(fault) {
		if f.bound > s.cut || s.enough() {
			return
		}
		child.copyFrom(f)
		child.choose(choice)
		if child.settle() && child.bound <= s.cut {
			s.branch(d + 1)
		}
	}
}

// record keeps a sound answer, which is no worse than the best.
func (s *search) record(f *flow) {
	for r := range f.at {
		s.best.group[r] = f.groupAt(r)
	}
	s.best.found, s.best.set, s.best.cost = true, s.set, f.bound
	s.cut = f.bound - 1
}
