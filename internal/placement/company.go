package placement

import "slices"

// company is a unit with the units that ride, if at all, in its group: their
// juniors' guardians are in it. Where everybody in it is free to ride elsewhere or
// not at all is known for each company by itself.
type company struct {
	root int
	kids []int
}

// maxKids is the most units that one company takes along; more stand by themselves.
const maxKids = 32

// companies lists the companies of an instance. A unit with guardians in several
// units, or in one that has guardians of its own, is a company by itself, whose
// links are not seen to.
func (in *instance) companies() []company {
	guardian := make([]int, len(in.units)) // of each unit: one unit, nobody or several
	const several = -2
	for u := range guardian {
		guardian[u] = nobody
	}
	for _, l := range in.links {
		switch guardian[l.junior] {
		case nobody, l.guardian:
			guardian[l.junior] = l.guardian
		default:
			guardian[l.junior] = several
		}
	}
	kids := make([][]int, len(in.units))
	along := make([]bool, len(in.units))
	for u, g := range guardian {
		if g >= 0 && guardian[g] == nobody && len(kids[g]) < maxKids {
			kids[g] = append(kids[g], u)
			along[u] = true
		}
	}
	var list []company
	for u, unit := range in.units {
		if len(unit) > 0 && !along[u] {
			list = append(list, company{u, slices.Clip(kids[u])})
		}
	}
	return list
}

// scope says where each unit may be: bits of groups, and one after the last for
// being left out.
type scope []uint32

// scope are those of the flow, with what follows for juniors and guardians.
func (f *flow) scope() scope {
	o := make(scope, len(f.in.units))
	for u, unit := range f.in.units {
		o[u] = 1<<(f.in.groups+1) - 1
		for _, r := range unit {
			var may uint32
			for s := f.allow[r]; s != 0; s &= s - 1 {
				may |= 1 << (s.first() / kinds)
			}
			o[u] &= may
		}
	}
	return o
}

// follow draws what follows from where units may be for juniors and guardians; false when a unit has no place left.
func (o scope) follow(in *instance) bool {
	out := uint32(1) << in.groups
	for changed := true; changed; {
		changed = false
		for _, l := range in.links {
			j, g := o[l.junior], o[l.guardian]
			o[l.junior] &= g | out
			if o[l.junior]&out == 0 {
				o[l.guardian] &= o[l.junior]
			}
			changed = changed || j != o[l.junior] || g != o[l.guardian]
		}
	}
	for u, unit := range in.units {
		if len(unit) > 0 && o[u] == 0 {
			return false
		}
	}
	return true
}

// largestCompany is how many riders the largest company has, or could have with all
// its juniors and guardians.
func (in *instance) largestCompany() int {
	head := make([]int, len(in.units))
	for u := range head {
		head[u] = u
	}
	find := func(u int) int {
		for head[u] != u {
			u = head[u]
		}
		return u
	}
	for _, l := range in.links {
		head[find(l.junior)] = find(l.guardian)
	}
	size, most := make([]int, len(in.units)), 0
	for u, unit := range in.units {
		h := find(u)
		size[h] += len(unit)
		most = max(most, size[h])
	}
	return most
}
