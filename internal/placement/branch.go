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

// choices lists ways to mend a fault, most promising first; between them they
// cover every answer, and no two overlap.
func (f *flow) choices(x fault) []func(*flow) {
	if x.kind == overBack {
		return []func(*flow){
			func(c *flow) { c.bindRole(x.group, x.role, false) },
			func(c *flow) { c.bindRole(x.group, x.role, true) },
		}
	}
	if x.kind == apart {
		l := f.in.links[x.link]
		return []func(*flow){
			func(c *flow) { c.tie(l) },
			func(c *flow) { c.fix(l.junior, c.in.groups) },
		}
	}
	var list []func(*flow)
	for _, g := range f.groupsFor(x.unit) {
		list = append(list, func(c *flow) { c.fix(x.unit, g) })
	}
	return list
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
	var list []int
	for g := range f.in.groups + 1 {
		if f.allow[unit[0]]&f.in.placesOf(g) != 0 {
			list = append(list, g)
		}
	}
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
