package placement

import (
	"cmp"
	"slices"
)

// fault is something a flow cannot see and got wrong.
type fault struct {
	kind  faultKind
	unit  int // split
	link  int // broken
	group int // with too many riders at the back
	role  int // lead or mark, taken by a rider of standing Back
}

type faultKind int

const (
	sound    faultKind = iota // nothing is wrong
	splitUp                   // a unit is not whole
	apart                     // juniors ride without the guardian
	overBack                  // a leader or back marker of standing Back overfills the back places
)

// fault finds the first thing wrong with an optimal flow, larger units first.
func (f *flow) fault() fault {
	worst := fault{kind: sound}
	size := 0
	for u, unit := range f.in.units {
		if len(unit) > size && f.isSplit(unit) {
			worst, size = fault{kind: splitUp, unit: u}, len(unit)
		}
	}
	if worst.kind != sound {
		return worst
	}
	for i, l := range f.in.links {
		g := f.groupAt(f.in.units[l.junior][0])
		if g != f.in.groups && g != f.groupAt(f.in.units[l.guardian][0]) {
			return fault{kind: apart, link: i}
		}
	}
	return f.backFault()
}

func (f *flow) isSplit(unit []int) bool {
	for _, r := range unit[1:] {
		if f.groupAt(r) != f.groupAt(unit[0]) {
			return true
		}
	}
	return false
}

// backFault finds a group with too many riders of standing Back. The flow holds
// those on back places to the limit; a leader or back marker makes the excess.
func (f *flow) backFault() fault {
	var count, role [MaxGroups]int
	for r, p := range f.at {
		g := f.in.groupOf(int(p))
		if g == f.in.groups || f.in.onBack[r]>>g&1 == 0 {
			continue
		}
		count[g]++
		if kind := int(p) % kinds; kind != back && f.roleBack[g]&(1<<kind) == 0 {
			role[g] = kind
		}
	}
	for g, q := range f.in.quota {
		if count[g] > q.back {
			return fault{kind: overBack, group: g, role: role[g]}
		}
	}
	return fault{kind: sound}
}

// choice is one way to mend a fault.
type choice struct {
	fault
	in  int  // the group of the unit
	yes bool // juniors ride; a rider of standing Back has the role
}

// choices lists ways to mend a fault, most promising first; between them they
// cover every answer, and no two overlap. The list holds until the next call.
func (f *flow) choices(x fault) []choice {
	f.list = f.list[:0]
	switch x.kind {
	case overBack:
		f.list = append(f.list, choice{fault: x}, choice{fault: x, yes: true})
	case apart:
		f.list = append(f.list, choice{fault: x, yes: true}, choice{fault: x})
	default:
		for _, g := range f.groupsFor(x.unit) {
			f.list = append(f.list, choice{fault: x, in: g})
		}
	}
	return f.list
}

// choose mends a fault one way.
func (f *flow) choose(c choice) {
	switch {
	case c.kind == overBack:
		f.bindRole(c.group, c.role, c.yes)
	case c.kind == apart && c.yes:
		f.tie(f.in.links[c.link])
	case c.kind == apart:
		f.fix(f.in.links[c.link].junior, f.in.groups)
	default:
		f.fix(c.unit, c.in)
	}
}

// bindRole keeps a role to riders of standing Back, whose back place is then set
// aside, or to the others.
func (f *flow) bindRole(g, role int, toBack bool) {
	for r := range f.allow {
		if (f.in.onBack[r]>>g&1 == 1) != toBack {
			f.narrow(r, ^place(g, role))
		}
	}
	if toBack {
		f.roleBack[g] |= 1 << role
		f.hi[kinds*g+back]--
		f.stale = true
	}
}

// groupsFor lists where a unit may go: the groups holding most of it first, left
// out last.
func (f *flow) groupsFor(u int) []int {
	unit := f.in.units[u]
	var here [MaxGroups + 1]int
	for _, r := range unit {
		here[f.groupAt(r)]++
	}
	list := f.ways[:0]
	for g := range f.in.groups + 1 {
		if f.allow[unit[0]]&f.in.placesOf(g) != 0 {
			list = append(list, g)
		}
	}
	f.ways = list
	slices.SortStableFunc(list, func(a, b int) int {
		if a == f.in.groups || b == f.in.groups {
			return cmp.Compare(a, b)
		}
		return cmp.Compare(here[b], here[a])
	})
	return list
}

// placesOf is the set of places of a group, or of being left out.
func (in *instance) placesOf(g int) places {
	if g == in.groups {
		return 1 << in.out()
	}
	return groupPlaces(g)
}

// fix puts a unit in a group (in.groups: left out), with what follows for
// guardians and juniors.
func (f *flow) fix(u, g int) {
	if f.isFixed(u, g) {
		return
	}
	to := f.in.placesOf(g)
	f.keep(u, to)
	for _, l := range f.in.links {
		switch {
		case l.junior == u && g != f.in.groups:
			f.fix(l.guardian, g)
		case l.guardian == u && g == f.in.groups:
			f.fix(l.junior, g)
		case l.guardian == u:
			f.keep(l.junior, to|1<<f.in.out())
		}
	}
}

func (f *flow) keep(u int, to places) {
	for _, r := range f.in.units[u] {
		f.narrow(r, to)
	}
}

// isFixed reports whether a unit can be nowhere else.
func (f *flow) isFixed(u, g int) bool {
	for _, r := range f.in.units[u] {
		if f.allow[r]&^f.in.placesOf(g) != 0 {
			return false
		}
	}
	return true
}
