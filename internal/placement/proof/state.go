package proof

import (
	"slices"

	"gritward/internal/placement"
)

// state is one case: what is decided, and what follows from it.
type state struct {
	k       *checker
	runs    []decision    // per group
	byBack  [2][]decision // leader, back marker, per group: of standing Back?
	unit    []int         // per rider: the first of those who go together
	size    []int         // per unit
	allowed []uint32      // per unit: groups, and a bit after the last for left out
	empty   bool          // no placement is in this case
}

type decision int8

const (
	open decision = iota
	yes
	no
)

// The two roles.
const (
	leader = iota
	marker
)

// newState is the case of all placements.
func newState(k *checker) *state {
	n, m := len(k.riders), len(k.groups)
	s := &state{k: k, runs: make([]decision, m), unit: make([]int, n), size: make([]int, n), allowed: make([]uint32, n)}
	s.byBack = [2][]decision{make([]decision, m), make([]decision, m)}
	party := map[string]int{}
	for i := range k.riders {
		s.unit[i], s.size[i] = i, 1
		if !k.riders[i].MustRide {
			s.allowed[i] = s.out()
		}
		for g := range k.groups {
			if k.mayRide(i, g) {
				s.allowed[i] |= 1 << g
			}
		}
	}
	for i, r := range k.riders {
		if first, ok := party[r.Party]; ok {
			s.join(first, i)
		} else if r.Party != "" {
			party[r.Party] = i
		}
	}
	for g, group := range k.groups {
		if group.MustRun {
			s.runs[g] = yes
		}
	}
	s.follow()
	return s
}

func (s *state) out() uint32 { return 1 << len(s.k.groups) }

// mayRide reports whether a rider alone may ride in a group.
func (k *checker) mayRide(i, g int) bool {
	r, group := k.riders[i], k.groups[g]
	standing, known := r.Standings[group.ID]
	return known && standing != placement.Held && (r.Pinned == "" || r.Pinned == group.ID) &&
		(!r.Junior || r.Guardian != "") && (standing != placement.Back || group.BackPlaces > 0) && group.MaxSize > 0
}

func (k *checker) isBack(i, g int) bool {
	return k.riders[i].Standings[k.groups[g].ID] == placement.Back
}

// clone is a case of its own within s.
func (s *state) clone() *state {
	c := *s
	c.runs, c.unit, c.size, c.allowed = slices.Clone(s.runs), slices.Clone(s.unit), slices.Clone(s.size), slices.Clone(s.allowed)
	for role := range c.byBack {
		c.byBack[role] = slices.Clone(s.byBack[role])
	}
	return &c
}

// join makes the riders of two units one unit, in the places of both that hold
// them all.
func (s *state) join(a, b int) {
	a, b = s.unit[a], s.unit[b]
	if a == b {
		return
	}
	a, b = min(a, b), max(a, b)
	s.allowed[a] &= s.allowed[b]
	s.size[a] += s.size[b]
	var backs [placement.MaxGroups]int
	for i, u := range s.unit {
		if u == b {
			s.unit[i] = a
		}
		if s.unit[i] == a {
			for g := range s.k.groups {
				if s.k.isBack(i, g) {
					backs[g]++
				}
			}
		}
	}
	for g, group := range s.k.groups {
		if s.size[a] > group.MaxSize || backs[g] > group.BackPlaces {
			s.allowed[a] &^= 1 << g
		}
	}
}

// keep leaves the unit of a rider only some places.
func (s *state) keep(rider int, to uint32) { s.allowed[s.unit[rider]] &= to }

// follow draws what follows from what is decided, until nothing more does.
func (s *state) follow() {
	for g, group := range s.k.groups {
		if s.runs[g] != yes {
			continue
		}
		for _, named := range []string{group.Leader, group.BackMarker} {
			if named != "" {
				s.keep(s.k.rider[named], 1<<g)
			}
		}
		s.empty = s.empty || max(1, group.MinSize) > group.MaxSize
	}
	for i := range s.unit {
		for g, d := range s.runs {
			if d == no {
				s.allowed[s.unit[i]] &^= 1 << g
			}
		}
	}
	for changed := true; changed; {
		changed = false
		for _, pair := range s.k.guard {
			junior, guardian := s.unit[pair[0]], s.unit[pair[1]]
			before := s.allowed[junior] | s.allowed[guardian]<<16
			s.allowed[junior] &= s.allowed[guardian] | s.out()
			if s.allowed[junior]&s.out() == 0 {
				s.allowed[guardian] &= s.allowed[junior]
			}
			changed = changed || before != s.allowed[junior]|s.allowed[guardian]<<16
		}
	}
	for _, u := range s.unit {
		s.empty = s.empty || s.allowed[u] == 0
	}
}

// needs reports whether a group that runs needs a role filled.
func (k *checker) needs(role, g int) bool {
	group := k.groups[g]
	if role == leader {
		return k.p.NeedLeader && !group.LeaderWaived || group.Leader != ""
	}
	return k.p.NeedBackMarker && !group.BackMarkerWaived || group.BackMarker != ""
}

// mayFill reports whether a rider in a group may fill a role there.
func (s *state) mayFill(role, i, g int) bool {
	r, named, able := s.k.riders[i], s.k.groups[g].Leader, s.k.riders[i].MayLead
	if role == marker {
		named, able = s.k.groups[g].BackMarker, r.MayMarkBack
	}
	if !s.k.needs(role, g) || !able || r.Junior || named != "" && named != r.ID {
		return false
	}
	return s.byBack[role][g] == open || (s.byBack[role][g] == yes) == s.k.isBack(i, g)
}

// mustFill reports whether a rider in a group is the one named for a role.
func (k *checker) mustFill(role, i, g int) bool {
	if role == leader {
		return k.groups[g].Leader == k.riders[i].ID
	}
	return k.groups[g].BackMarker == k.riders[i].ID
}
