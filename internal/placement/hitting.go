package placement

import "slices"

// maxHittingNodes bounds the search for one hitting set, in nodes.
const maxHittingNodes = 50_000

// hitting finds smallest sets that have something in common with each of some
// sets.
type hitting struct {
	sets  [][]int // each in rising order
	nodes int
}

// least is a smallest hitting set of at most size numbers; of equally small ones
// the first. ok is false when there is none so small, or when
// the search met its limit.
func (h *hitting) least(size int) (set []int, ok bool) {
	h.nodes = 0
	for k := 0; k <= size; k++ {
		if set, ok := h.choose(nil, 0, k); ok {
			return set, true
		}
		if h.nodes > maxHittingNodes {
			return nil, false
		}
	}
	return nil, false
}

// choose adds k numbers from next on, in rising order.
func (h *hitting) choose(chosen []int, next, k int) ([]int, bool) {
	if h.nodes++; h.nodes > maxHittingNodes {
		return nil, false
	}
	missed := h.missed(chosen)
	switch {
	case len(missed) == 0:
		return slices.Clone(chosen), true
	case k == 0 || h.disjoint(missed) > k:
		return nil, false
	}
	var useful []int // numbers that meet something still missed
	for _, set := range missed {
		for _, i := range set {
			if i >= next {
				useful = append(useful, i)
			}
		}
	}
	slices.Sort(useful)
	for _, i := range slices.Compact(useful) {
		if set, ok := h.choose(append(chosen, i), i+1, k-1); ok {
			return set, true
		}
	}
	return nil, false
}

// missed lists the sets that have nothing in common with the chosen numbers.
func (h *hitting) missed(chosen []int) [][]int {
	var list [][]int
	for _, set := range h.sets {
		if !slices.ContainsFunc(chosen, func(i int) bool { return slices.Contains(set, i) }) {
			list = append(list, set)
		}
	}
	return list
}

// disjoint counts sets that have nothing in common: each takes a number of its
// own, so no fewer will do.
func (h *hitting) disjoint(sets [][]int) int {
	count, taken := 0, map[int]bool{}
	for _, set := range sets {
		if slices.ContainsFunc(set, func(i int) bool { return taken[i] }) {
			continue
		}
		count++
		for _, i := range set {
			taken[i] = true
		}
	}
	return count
}
