package placement

import "slices"

// model is a problem with riders and groups in ID order, and its numbers.
type model struct {
	p       Problem
	rider   map[string]int
	group   map[string]int
	weights weights
}

func newModel(p Problem) *model {
	m := &model{p: p, rider: map[string]int{}, group: map[string]int{}, weights: newWeights(p)}
	m.p.Riders, m.p.Groups = slices.Clone(p.Riders), slices.Clone(p.Groups)
	sortBy(m.p.Riders, func(r Rider) string { return r.ID })
	sortBy(m.p.Groups, func(g Group) string { return g.ID })
	for i, r := range m.p.Riders {
		m.rider[r.ID] = i
	}
	for i, g := range m.p.Groups {
		m.group[g.ID] = i
	}
	return m
}

// needsLeader and needsBackMarker: the group runs only with one.
func (p Problem) needsLeader(g Group) bool { return p.NeedLeader && !g.LeaderWaived || g.Leader != "" }
func (p Problem) needsBackMarker(g Group) bool {
	return p.NeedBackMarker && !g.BackMarkerWaived || g.BackMarker != ""
}

// mayLead and mayMarkBack: a junior has charge of nobody.
func mayLead(r Rider) bool     { return r.MayLead && !r.Junior }
func mayMarkBack(r Rider) bool { return r.MayMarkBack && !r.Junior }

// mayRide reports whether a rider alone, looking at no one else, may ride in a group.
func mayRide(r Rider, group string) bool {
	return r.StandingIn(group) != Held && (r.Pinned == "" || r.Pinned == group) && (!r.Junior || r.Guardian != "")
}

// instance builds the numbers, with juniors linked to their guardians.
func (m *model) instance() *instance {
	in := newInstance(len(m.p.Riders), len(m.p.Groups))
	for g, group := range m.p.Groups {
		q := &in.quota[g]
		q.min, q.max, q.back = max(1, group.MinSize), group.MaxSize, group.BackPlaces
		q.lead, q.mark = m.p.needsLeader(group), m.p.needsBackMarker(group)
		q.must = group.MustRun
		q.namedLead, q.namedMark = m.named(group.Leader), m.named(group.BackMarker)
	}
	for r, rider := range m.p.Riders {
		row := in.cost[r*(in.groups+1):]
		for g, group := range m.p.Groups {
			row[g] = m.weights.place(rider, group)
			if mayRide(rider, group.ID) {
				in.permit(r, g, rider.StandingIn(group.ID) == Back, mayLead(rider), mayMarkBack(rider))
			}
		}
		row[in.groups] = m.weights.leave(rider)
		if !rider.MustRide {
			in.allow[r] |= 1 << in.out()
		}
	}
	m.units(in)
	in.settleUnits()
	in.settleNamed()
	in.shareCosts()
	return in
}

func (m *model) named(id string) int {
	if id == "" {
		return nobody
	}
	return m.rider[id]
}

// units joins riders of one party, and links juniors to guardians.
func (m *model) units(in *instance) {
	head := make([]int, in.riders) // union-find: the first rider of each unit
	find := func(r int) int {
		for head[r] != r {
			r = head[r]
		}
		return r
	}
	join := func(a, b int) {
		a, b = find(a), find(b)
		head[max(a, b)] = min(a, b)
	}
	party := map[string]int{}
	for r, rider := range m.p.Riders {
		head[r] = r
		if first, ok := party[rider.Party]; ok {
			join(first, r)
		} else if rider.Party != "" {
			party[rider.Party] = r
		}
	}
	for r := range in.riders {
		if find(r) == r {
			in.unitOf[r] = len(in.units)
			in.units = append(in.units, nil)
		}
		u := in.unitOf[find(r)]
		in.unitOf[r] = u
		in.units[u] = append(in.units[u], r)
	}
	for r, rider := range m.p.Riders {
		if rider.Junior && rider.Guardian != "" {
			if l := (link{in.unitOf[r], in.unitOf[m.rider[rider.Guardian]], r}); l.junior != l.guardian {
				in.links = append(in.links, l)
			}
		}
	}
}
