package placement

import "slices"

// settleUnits keeps, for each unit, only the groups that all its riders may ride
// in and that hold it, and for each junior the groups of the guardian.
func (in *instance) settleUnits() {
	for _, unit := range in.units {
		for g := range in.groups {
			ok := in.fits(unit, g)
			for _, r := range unit {
				ok = ok && in.allow[r]&groupPlaces(g) != 0
			}
			if !ok {
				in.bar(unit, g)
			}
		}
	}
	for changed := true; changed; {
		changed = false
		for _, l := range in.links {
			j, a := in.units[l.junior], in.units[l.guardian]
			for g := range in.groups {
				if in.allow[j[0]]&groupPlaces(g) != 0 && in.allow[a[0]]&groupPlaces(g) == 0 {
					in.bar(j, g)
					changed = true
				}
			}
		}
	}
}

func (in *instance) bar(unit []int, g int) {
	for _, r := range unit {
		in.allow[r] &^= groupPlaces(g)
	}
}

// shareCosts gives the riders of each unit equal shares of its cost in each
// group. The total is the same whenever the unit is whole, and a unit with equal
// shares has little to gain from being split, which makes the bound of the flow
// sharp.
func (in *instance) shareCosts() {
	for _, unit := range in.units {
		in.shareCost(unit)
	}
}

func (in *instance) shareCost(unit []int) {
	w := in.groups + 1
	for g := range w {
		var sum int64
		for _, r := range unit {
			sum += in.cost[r*w+g]
		}
		for i, r := range unit {
			in.cost[r*w+g] = (sum + int64(i)) / int64(len(unit))
		}
	}
}

// tied is the instance in which the two units of a link are one.
func (in *instance) tied(l link) *instance {
	out := in.clone()
	out.merge(l)
	return out
}

// clone shares with in what tying does not change, and the places of riders.
func (in *instance) clone() *instance {
	out := *in
	out.cost, out.unitOf, out.units, out.links = slices.Clone(in.cost), slices.Clone(in.unitOf), slices.Clone(in.units), slices.Clone(in.links)
	return &out
}

// merge makes the two units of a link one.
func (in *instance) merge(l link) {
	unit := slices.Sorted(slices.Values(slices.Concat(in.units[l.junior], in.units[l.guardian])))
	in.units[l.guardian], in.units[l.junior] = unit, nil
	for _, r := range unit {
		in.unitOf[r] = l.guardian
	}
	links := in.links[:0]
	for _, o := range in.links {
		if o.junior == l.junior {
			o.junior = l.guardian
		}
		if o.guardian == l.junior {
			o.guardian = l.guardian
		}
		if o.junior != o.guardian {
			links = append(links, o)
		}
	}
	in.links = links
	in.shareCost(unit)
}

// allTied ties every link whose junior could ride at all, and drops the others:
// their juniors are left out. It lists the juniors tied.
func (in *instance) allTied() (*instance, []int) {
	out := in.clone()
	out.links = nil
	for _, l := range in.links {
		if in.canRide(in.units[l.junior][0]) {
			out.links = append(out.links, l)
		}
	}
	if len(out.links) == 0 {
		return out, nil
	}
	var juniors []int
	out.allow = slices.Clone(in.allow)
	for len(out.links) > 0 {
		juniors = append(juniors, out.links[0].rider)
		out.merge(out.links[0])
	}
	out.settleUnits()
	return out, juniors
}

// canRide reports whether there is a group for a rider.
func (in *instance) canRide(r int) bool { return in.allow[r]&^in.placesOf(in.groups) != 0 }

// placeable counts the riders for whom there is a group.
func (in *instance) placeable() int {
	n := 0
	for r := range in.riders {
		n += count(in.canRide(r))
	}
	return n
}

// tie makes the two units of a link ride, together.
func (f *flow) tie(l link) {
	f.in, f.stale = f.in.tied(l), true
	unit := f.in.units[l.guardian]
	var common places
	for g := range f.in.groups {
		if f.in.fits(unit, g) && f.all(unit, groupPlaces(g)) {
			common |= groupPlaces(g)
		}
	}
	for _, r := range unit { // the shares changed, so the cheapest place may have
		f.crowd.leave(f, r, int(f.at[r]), f.allow[r])
		f.allow[r] &= common
		if f.reseat(r); f.dead {
			return
		}
	}
}

// all reports whether each rider of a unit may be at some of the places.
func (f *flow) all(unit []int, at places) bool {
	for _, r := range unit {
		if f.allow[r]&at == 0 {
			return false
		}
	}
	return true
}

// fits reports whether a group has room for a unit at all.
func (in *instance) fits(unit []int, g int) bool {
	backs := 0
	for _, r := range unit {
		backs += int(in.onBack[r] >> g & 1)
	}
	return len(unit) <= in.quota[g].max && backs <= in.quota[g].back
}
