package placement

import (
	"cmp"
	"slices"
)

// roles picks the leader and the back marker of a group that runs: those named;
// else, of the qualified, the better standing, then the more experienced, then
// the earlier ID. The leader is picked first, but never so that no back marker
// is left.
func (m *model) roles(g Group, riders []Rider) (leader, backMarker string) {
	leaders := candidates(g, riders, g.Leader, m.p.needsLeader(g), mayLead)
	markers := candidates(g, riders, g.BackMarker, m.p.needsBackMarker(g), mayMarkBack)
	switch {
	case len(leaders) == 0 && len(markers) == 0:
		return "", ""
	case len(markers) == 0:
		return leaders[0], ""
	case len(leaders) == 0:
		return "", markers[0]
	}
	for _, l := range leaders {
		for _, b := range markers {
			if l != b {
				return l, b
			}
		}
	}
	return "", "" // cannot be: the search leaves two different riders
}

// candidates lists, best first, who may fill a role; nobody if it is neither
// needed nor named.
func candidates(g Group, riders []Rider, named string, need bool, may func(Rider) bool) []string {
	if named != "" {
		return []string{named}
	}
	if !need {
		return nil
	}
	var fit []Rider
	for _, r := range riders {
		// a rider named for the other role is not free for this one
		if may(r) && r.ID != g.Leader && r.ID != g.BackMarker {
			fit = append(fit, r)
		}
	}
	slices.SortStableFunc(fit, func(a, b Rider) int {
		return cmp.Or(
			cmp.Compare(a.StandingIn(g.ID), b.StandingIn(g.ID)),
			cmp.Compare(b.Experience, a.Experience),
			cmp.Compare(a.ID, b.ID))
	})
	var ids []string
	for _, r := range fit {
		ids = append(ids, r.ID)
	}
	return ids
}
