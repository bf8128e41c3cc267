package placement

import "context"

// matrix is a part of the placement problem in raw costs: everybody is placed,
// each running group needs a leader and no back marker.
type matrix struct {
	costs           [][]int64 // rider, group
	leader, back    []bool    // per rider: may lead; rides at the back in any group
	max, backs, min []int     // per group
}

// solveMatrix places everyone at least cost; found is false when that cannot be.
func solveMatrix(ctx context.Context, m matrix, limit int) (best answer, proven bool) {
	in := newInstance(len(m.costs), len(m.max))
	in.mustRide = true
	for g := range m.max {
		in.quota[g] = quota{min: m.min[g], max: m.max[g], back: m.backs[g], lead: true, namedLead: nobody, namedMark: nobody}
	}
	for r, row := range m.costs {
		copy(in.cost[r*(in.groups+1):], row)
		for g := range m.max {
			in.permit(r, g, m.back[r], m.leader[r], false)
		}
		in.units = append(in.units, []int{r})
		in.unitOf[r] = r
	}
	s := newSearch(ctx, in, limit)
	s.run()
	return s.best, s.lost >= s.best.cost && s.err == nil
}
