package placement

import (
	"fmt"
	"slices"
	"strings"
)

// alike tells riders who may be put in each other's place: what holds of one holds of
// the other.
type alike struct {
	p     Problem
	at    map[string]int
	bound map[string]bool // named for a role, or somebody's guardian
}

func newAlike(p Problem) *alike {
	a := &alike{p: p, at: map[string]int{}, bound: map[string]bool{}}
	for i, r := range p.Riders {
		a.at[r.ID] = i
		a.bound[r.Guardian] = true
	}
	for _, g := range p.Groups {
		a.bound[g.Leader], a.bound[g.BackMarker] = true, true
	}
	return a
}

// kind is the same for riders who are alike: for whether they may ride, and with wishes
// for how well, too. It is "" for a rider who is bound to others.
func (a *alike) kind(id string, wishes bool) string {
	r := a.p.Riders[a.at[id]]
	if r.Party != "" || r.Junior || a.bound[id] {
		return ""
	}
	var kind strings.Builder
	fmt.Fprintf(&kind, "%v %v %q", r.MayLead, r.MayMarkBack, r.Pinned)
	for _, g := range a.p.Groups {
		fmt.Fprintf(&kind, " %d", r.StandingIn(g.ID))
	}
	if wishes {
		fmt.Fprintf(&kind, " %v %v %q %q %v", r.PaceMinKmh, r.PaceMaxKmh, r.Preferred, r.Previous, r.MustRide)
	}
	return kind.String()
}

// swapped are constraints with two riders who are alike in each other's place.
func swapped(list []Constraint, a, b string) []Constraint {
	list = slices.Clone(list)
	for i := range list {
		switch list[i].Rider {
		case a:
			list[i].Rider = b
		case b:
			list[i].Rider = a
		}
	}
	slices.SortFunc(list, compareConstraints)
	return list
}
