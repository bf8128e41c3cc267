package placement

import (
	"cmp"
	"maps"
	"slices"
)

// ConstraintKind is what a constraint demands or forbids.
type ConstraintKind int

// The kinds: first the demands, then the rules.
const (
	Rides           ConstraintKind = iota // the rider has a place (MustRide)
	OthersRide                            // all other riders who have a place have one (see Conflicts)
	Runs                                  // the group runs (MustRun)
	PinnedTo                              // the rider rides in the group or not at all
	HeldIn                                // the rider's bike is held in the group
	WithGuardian                          // the junior rides only with the guardian
	Together                              // a party rides whole, in one group
	BackPlacesOf                          // at most BackPlaces riders of standing Back
	AtMost                                // at most MaxSize riders
	AtLeast                               // at least MinSize riders, if the group runs
	NeedsLeader                           // a leader, if the group runs
	NeedsBackMarker                       // a back marker, if the group runs
	NamedLeader                           // the rider leads the group, if it runs
	NamedBackMarker                       // the rider marks the group's back, if it runs
	constraintKinds                       // how many there are
)

// Constraint is one named part of a problem that can be taken away by itself.
// What is not named always holds: who signed up, which groups there are, what a
// rider is qualified for, that leader and back marker are two people.
type Constraint struct {
	Kind                ConstraintKind
	Rider, Group, Party string // "" where the kind is not about one
}

// Constraints lists the constraints of a problem by kind, then by rider, group and
// party.
func Constraints(p Problem) []Constraint {
	var list []Constraint
	add := func(holds bool, c Constraint) {
		if holds {
			list = append(list, c)
		}
	}
	parties := map[string]int{}
	for _, r := range p.Riders {
		if parties[r.Party]++; r.Party != "" && parties[r.Party] == 2 {
			list = append(list, Constraint{Kind: Together, Party: r.Party})
		}
		add(r.MustRide, Constraint{Kind: Rides, Rider: r.ID})
		add(r.Pinned != "", Constraint{Kind: PinnedTo, Rider: r.ID, Group: r.Pinned})
		add(r.Junior, Constraint{Kind: WithGuardian, Rider: r.ID})
		for _, g := range p.Groups {
			add(r.StandingIn(g.ID) == Held, Constraint{Kind: HeldIn, Rider: r.ID, Group: g.ID})
		}
	}
	for _, g := range p.Groups {
		add(g.MustRun, Constraint{Kind: Runs, Group: g.ID})
		add(g.BackPlaces < len(p.Riders), Constraint{Kind: BackPlacesOf, Group: g.ID})
		add(g.MaxSize < len(p.Riders), Constraint{Kind: AtMost, Group: g.ID})
		add(g.MinSize > 1, Constraint{Kind: AtLeast, Group: g.ID})
		add(p.NeedLeader && !g.LeaderWaived, Constraint{Kind: NeedsLeader, Group: g.ID})
		add(p.NeedBackMarker && !g.BackMarkerWaived, Constraint{Kind: NeedsBackMarker, Group: g.ID})
		add(g.Leader != "", Constraint{Kind: NamedLeader, Rider: g.Leader, Group: g.ID})
		add(g.BackMarker != "", Constraint{Kind: NamedBackMarker, Rider: g.BackMarker, Group: g.ID})
	}
	slices.SortFunc(list, compareConstraints)
	return list
}

func compareConstraints(a, b Constraint) int {
	return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Rider, b.Rider), cmp.Compare(a.Group, b.Group),
		cmp.Compare(a.Party, b.Party))
}

// Without is the problem with some of its constraints taken away. A rider whose
// bike is no longer held rides there as if clear.
func Without(p Problem, taken ...Constraint) Problem {
	gone := map[Constraint]bool{}
	kinds := [constraintKinds]bool{}
	for _, c := range taken {
		gone[c], kinds[c.Kind] = true, true
	}
	return without(p, func(c Constraint) bool { return kinds[c.Kind] && gone[c] })
}

func without(p Problem, gone func(Constraint) bool) Problem {
	p.Riders, p.Groups = slices.Clone(p.Riders), slices.Clone(p.Groups)
	for i := range p.Riders {
		r := &p.Riders[i]
		r.MustRide = r.MustRide && !gone(Constraint{Kind: Rides, Rider: r.ID})
		if gone(Constraint{Kind: PinnedTo, Rider: r.ID, Group: r.Pinned}) {
			r.Pinned = ""
		}
		if gone(Constraint{Kind: Together, Party: r.Party}) {
			r.Party = ""
		}
		if r.Junior && gone(Constraint{Kind: WithGuardian, Rider: r.ID}) {
			r.Junior, r.Guardian, r.MayLead, r.MayMarkBack = false, "", false, false
		}
		unheld(r, p.Groups, gone)
	}
	for i := range p.Groups {
		p.Groups[i].loosen(len(p.Riders), gone)
	}
	return p
}

// unheld frees a rider from the groups where the bike is no longer held.
func unheld(r *Rider, groups []Group, gone func(Constraint) bool) {
	shared := true
	for _, g := range groups {
		if r.StandingIn(g.ID) == Held && gone(Constraint{Kind: HeldIn, Rider: r.ID, Group: g.ID}) {
			if shared {
				r.Standings, shared = maps.Clone(r.Standings), false
			}
			if r.Standings == nil {
				r.Standings = map[string]Standing{}
			}
			r.Standings[g.ID] = Clear
		}
	}
}

// loosen takes a group's own constraints away.
func (g *Group) loosen(riders int, gone func(Constraint) bool) {
	of := func(kind ConstraintKind) bool { return gone(Constraint{Kind: kind, Group: g.ID}) }
	g.MustRun = g.MustRun && !of(Runs)
	if of(BackPlacesOf) {
		g.BackPlaces = max(g.BackPlaces, riders)
	}
	if of(AtMost) {
		g.MaxSize = max(g.MaxSize, riders)
	}
	if of(AtLeast) {
		g.MinSize = 0
	}
	g.LeaderWaived = g.LeaderWaived || of(NeedsLeader)
	g.BackMarkerWaived = g.BackMarkerWaived || of(NeedsBackMarker)
	if gone(Constraint{Kind: NamedLeader, Rider: g.Leader, Group: g.ID}) {
		g.Leader = ""
	}
	if gone(Constraint{Kind: NamedBackMarker, Rider: g.BackMarker, Group: g.ID}) {
		g.BackMarker = ""
	}
}

// With is the problem with demands added: constraints of kind Rides and Runs.
func With(p Problem, wishes ...Constraint) Problem {
	p.Riders, p.Groups = slices.Clone(p.Riders), slices.Clone(p.Groups)
	for i := range p.Riders {
		r := &p.Riders[i]
		r.MustRide = r.MustRide || slices.Contains(wishes, Constraint{Kind: Rides, Rider: r.ID})
	}
	for i := range p.Groups {
		g := &p.Groups[i]
		g.MustRun = g.MustRun || slices.Contains(wishes, Constraint{Kind: Runs, Group: g.ID})
	}
	return p
}
