package placement

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// Solve finds the best placement. The error tells every malformed field of the
// problem, or that the context ended before there was an answer; that nobody can
// be placed is an answer, not an error. The problem is not changed.
func Solve(ctx context.Context, p Problem) (Result, error) {
	if err := validate(p); err != nil {
		return Result{}, err
	}
	if p.NodeLimit == 0 {
		p.NodeLimit = DefaultNodeLimit
	}
	m := newModel(p)
	s, err := m.search(ctx)
	if err != nil {
		return Result{}, fmt.Errorf("placement: stopped before an answer; allow more time and place again: %w", err)
	}
	if !s.best.found {
		r := m.result(m.nobodyRides().group)
		r.Infeasible, r.Proven, r.Nodes = true, s.lost == math.MaxInt64, s.nodes
		return r, nil
	}
	r := m.result(s.best.group)
	r.Objective = m.weights.objective(s.best.cost)
	r.Bound = m.weights.objective(s.bound())
	r.Proven = s.bound() == s.best.cost
	r.Nodes = s.nodes
	m.explain(&r)
	return r, nil
}

// search finds the best answer and settles its ties.
func (m *model) search(ctx context.Context) (*search, error) {
	s := m.optimum(ctx, false)
	if s.err == nil && s.best.found {
		budget := m.p.NodeLimit
		if s.blended {
			budget = min(budget, blendedTies)
		}
		s.refine(budget)
	}
	return s, s.err
}

// optimum first ties to the guardian each junior who could ride at all. When that
// leaves out only riders who could not, no answer that leaves a junior out can be
// as good, so it is best of all; otherwise the search goes on with guardians free
// to ride without the junior. Where any answer will do, a hasty search ends with the first.
func (m *model) optimum(ctx context.Context, hasty bool) *search {
	loose := m.instance()
	together, _ := loose.allTied()
	s := newSearch(ctx, together, m.p.NodeLimit)
	s.hasty = hasty
	if len(loose.links) > 0 {
		s.limit = min(s.limit, flowNodes)
	} else {
		s.blend = &blend{s: s, w: m.weights}
	}
	if !m.demands() {
		s.best = m.nobodyRides()
	}
	s.run()
	if len(loose.links) > 0 && !s.enough() && (s.lost < s.best.cost || m.weights.objective(s.best.cost).Placed < loose.placeable()) {
		tied := s
		s = newSearch(ctx, loose, m.p.NodeLimit)
		s.blend = &blend{s: s, w: m.weights}
		s.best, s.hasty = tied.best, hasty
		s.run()
		s.nodes += tied.nodes
	}
	return s
}

// demands reports whether somebody must ride or some group must run.
func (m *model) demands() bool {
	return slices.ContainsFunc(m.p.Riders, func(r Rider) bool { return r.MustRide }) ||
		slices.ContainsFunc(m.p.Groups, func(g Group) bool { return g.MustRun })
}

// nobodyRides is the answer that is always allowed where nothing is demanded.
func (m *model) nobodyRides() answer {
	a := answer{found: true, group: make([]int, len(m.p.Riders))}
	for i, r := range m.p.Riders {
		a.group[i] = len(m.p.Groups)
		a.cost += m.weights.leave(r)
	}
	return a
}

// result lists groups with their riders and roles, and the riders left out.
func (m *model) result(group []int) Result {
	in := make([][]Rider, len(m.p.Groups)+1)
	for r, g := range group {
		in[g] = append(in[g], m.p.Riders[r])
	}
	var res Result
	for g, group := range m.p.Groups {
		out := GroupResult{ID: group.ID, Runs: len(in[g]) > 0}
		for _, r := range in[g] {
			out.Riders = append(out.Riders, r.ID)
		}
		if out.Runs {
			out.Leader, out.BackMarker = m.roles(group, in[g])
		}
		res.Groups = append(res.Groups, out)
	}
	for _, r := range in[len(m.p.Groups)] {
		res.Unplaced = append(res.Unplaced, Unplaced{Rider: r.ID})
	}
	return res
}
