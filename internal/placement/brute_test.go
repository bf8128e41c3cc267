package placement_test

import (
	"iter"
	"slices"

	"gritward/internal/placement"
)

// brute tries every placement of a small problem, with riders and groups in ID
// order, and returns the best objective and the groups of the first placement
// that has it: first by the fixed order of running sets, then rider by rider,
// the earlier group first, left out last. found is false when no placement keeps
// what must be.
func brute(p placement.Problem) (best placement.Objective, groups []string, found bool) {
	n, k := len(p.Riders), len(p.Groups)
	var bestAt []int
	for at := range assignments(p) {
		if r, ok := assemble(p, at); ok {
			o := placement.Score(p, r)
			if !found || o.Better(best) || o == best && earlier(at, bestAt, k) {
				best, bestAt, found = o, slices.Clone(at), true
			}
		}
	}
	groups = make([]string, n)
	for i, g := range bestAt {
		if g < k {
			groups[i] = p.Groups[g].ID
		}
	}
	return best, groups, found
}

// possible reports whether any placement keeps what must be.
func possible(p placement.Problem) bool {
	for at := range assignments(p) {
		if _, ok := assemble(p, at); ok {
			return true
		}
	}
	return false
}

// assignments yields every way to put riders in groups where they are not held,
// and in none more than it takes; the group after the last is "left out". The
// slice is used again.
func assignments(p placement.Problem) iter.Seq[[]int] {
	at, size := make([]int, len(p.Riders)), make([]int, len(p.Groups)+1)
	var from func(i int, yield func([]int) bool) bool
	from = func(i int, yield func([]int) bool) bool {
		if i == len(at) {
			return yield(at)
		}
		for g := range size {
			if g < len(p.Groups) {
				s, ok := p.Riders[i].Standings[p.Groups[g].ID]
				if !ok || s == placement.Held || size[g] == p.Groups[g].MaxSize {
					continue // Check would say the same
				}
			}
			at[i] = g
			size[g]++
			more := from(i+1, yield)
			if size[g]--; !more {
				return false
			}
		}
		return true
	}
	return func(yield func([]int) bool) { from(0, yield) }
}

// earlier is the rule of ties.
func earlier(a, b []int, groups int) bool {
	for g := range groups {
		if ra, rb := has(a, g), has(b, g); ra != rb {
			return ra
		}
	}
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

func has(s []int, x int) bool {
	for _, v := range s {
		if v == x {
			return true
		}
	}
	return false
}

// assemble makes a result of an assignment, with the first pair of roles that
// Check accepts; ok is false when it accepts none.
func assemble(p placement.Problem, at []int) (placement.Result, bool) {
	r := placement.Result{}
	for _, g := range p.Groups {
		r.Groups = append(r.Groups, placement.GroupResult{ID: g.ID})
	}
	for i, g := range at {
		if g == len(p.Groups) {
			r.Unplaced = append(r.Unplaced, placement.Unplaced{Rider: p.Riders[i].ID})
			continue
		}
		r.Groups[g].Runs = true
		r.Groups[g].Riders = append(r.Groups[g].Riders, p.Riders[i].ID)
	}
	for g := range r.Groups {
		if r.Groups[g].Runs && !giveRoles(p, &r, g) {
			return r, false
		}
	}
	return r, len(placement.Check(p, r)) == 0
}

// giveRoles picks any two different qualified riders of a group.
func giveRoles(p placement.Problem, r *placement.Result, g int) bool {
	group, out := p.Groups[g], &r.Groups[g]
	leaders, markers := []string{""}, []string{""}
	if p.NeedLeader && !group.LeaderWaived || group.Leader != "" {
		leaders = pick(p, out.Riders, group.Leader, func(x placement.Rider) bool { return x.MayLead })
	}
	if p.NeedBackMarker && !group.BackMarkerWaived || group.BackMarker != "" {
		markers = pick(p, out.Riders, group.BackMarker, func(x placement.Rider) bool { return x.MayMarkBack })
	}
	for _, l := range leaders {
		for _, b := range markers {
			if l == "" || l != b {
				out.Leader, out.BackMarker = l, b
				return true
			}
		}
	}
	return false
}

func pick(p placement.Problem, riders []string, named string, may func(placement.Rider) bool) []string {
	var ids []string
	for _, x := range p.Riders {
		if has2(riders, x.ID) && may(x) && !x.Junior && (named == "" || named == x.ID) {
			ids = append(ids, x.ID)
		}
	}
	return ids
}

func has2(s []string, x string) bool {
	for _, v := range s {
		if v == x {
			return true
		}
	}
	return false
}
