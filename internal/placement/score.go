package placement

import (
	"cmp"
	"math"
	"slices"
)

// Points of discomfort per 0.1 km/h. Being dropped is worse than waiting, so
// too fast costs three times too slow. The project's own choice, no source.
const (
	pointsTooFast = 3
	pointsTooSlow = 1
)

// Discomfort is how badly a group's pace suits a rider, in points: 3 for each
// 0.1 km/h that the group is above the rider's band, 1 for each 0.1 km/h below
// it, 0 inside. Paces are rounded to 0.1 km/h first.
func Discomfort(r Rider, g Group) int {
	pace := tenths(g.PaceKmh)
	if over := pace - tenths(r.PaceMaxKmh); over > 0 {
		return pointsTooFast * over
	}
	return pointsTooSlow * max(0, tenths(r.PaceMinKmh)-pace)
}

// tenths rounds a pace to whole tenths of km/h.
func tenths(paceKmh float64) int { return int(math.Round(paceKmh * 10)) }

// Score measures a result against a problem, from its seats alone. It holds for
// a result that somebody edited as well; [Check] says whether that is allowed.
func Score(p Problem, r Result) Objective {
	in := map[string]string{}
	for _, s := range r.Seats() {
		in[s.Rider] = s.Group
	}
	groups := map[string]Group{}
	for _, g := range p.Groups {
		groups[g.ID] = g
	}
	var o Objective
	for _, rider := range p.Riders {
		group := in[rider.ID]
		if group != "" {
			o.Placed++
			o.Discomfort += Discomfort(rider, groups[group])
			if rider.Preferred == group {
				o.PreferencesMet++
			}
		}
		if moved(rider, group) {
			o.Moves++
		}
	}
	return o
}

// moved reports whether being in a group ("" for left out) is a change from the
// previous issue.
func moved(r Rider, group string) bool { return r.Previous != "" && r.Previous != group }

// sortBy sorts a slice by a key.
func sortBy[T any, K cmp.Ordered](s []T, key func(T) K) {
	slices.SortStableFunc(s, func(a, b T) int { return cmp.Compare(key(a), key(b)) })
}
