package placement

import "slices"

// family is a guardian with the juniors in the same group.
type family struct {
	guardian string
	juniors  []string // sorted
	back     bool     // all of it rides at the back
}

// gatherFamilies finds who rides with whom, and who of them goes along to the back.
func (o *ordering) gatherFamilies() {
	o.families = map[string]family{}
	for _, id := range o.ids {
		guardian := o.places[id].Guardian
		adult, rides := o.places[guardian]
		if !rides || adult.Guardian != "" || id == o.head || id == o.tail {
			continue // roles and guardians are for adults
		}
		f := o.families[guardian]
		f.guardian, f.juniors = guardian, append(f.juniors, id)
		o.families[guardian] = f
	}
	for guardian, f := range o.families {
		f.back = guardian != o.head && (guardian == o.tail || o.sentBack(guardian) || slices.ContainsFunc(f.juniors, o.sentBack))
		o.families[guardian] = f
	}
}

// familyOf is the family of a guardian or junior.
func (o *ordering) familyOf(id string) (family, bool) {
	if f, ok := o.families[id]; ok {
		return f, true
	}
	f, ok := o.families[o.places[id].Guardian]
	return f, ok
}

// kept reports whether a rider is a junior, or has one along, who may not ride in the first row: the guardian does not lead.
func (o *ordering) kept(id string) bool {
	f, ok := o.familyOf(id)
	return ok && f.guardian != o.head
}

// keptBlock reports whether a block begins with somebody who may not ride in the first row.
func (o *ordering) keptBlock(b block) bool { return o.kept(b.riders[0]) }

// arrange puts the riders of a block, most experienced first, so that families sit together: after the others, each with
// its guardian in the middle, and next to the leader or back marker where that is the guardian.
func (o *ordering) arrange(b *block) {
	var front, others, families, tail []string
	for _, id := range b.riders {
		f, ok := o.familyOf(id)
		switch {
		case !ok:
			others = append(others, id)
		case f.guardian == o.head:
			front = append(front, id)
		case f.guardian == o.tail:
			tail = append(tail, id)
		case id == f.guardian:
			half := (len(f.juniors) + 1) / 2
			families = append(families, f.juniors[:half]...)
			families = append(families, id)
			families = append(families, f.juniors[half:]...)
		}
	}
	b.riders = slices.Concat(front, others, families, tail)
}

// align seats a junior and a guardian in rows next to each other on the same side, where the second row may be turned.
func (o *ordering) align(rows []Row) {
	for i := 1; i < len(rows); i++ {
		row := &rows[i]
		if row.Right == "" || row.Left == o.tail || row.Right == o.tail {
			continue
		}
		ahead := rows[i-1]
		if o.related(ahead.Left, row.Right) || o.related(ahead.Right, row.Left) {
			if !o.related(ahead.Left, row.Left) && !o.related(ahead.Right, row.Right) {
				row.Left, row.Right = row.Right, row.Left
			}
		}
	}
}

// related reports whether one of two riders is the other's guardian.
func (o *ordering) related(a, b string) bool {
	return a != "" && b != "" && (o.places[a].Guardian == b || o.places[b].Guardian == a)
}

// familyNotes says who rides elsewhere than the own standing would have it, to be with a junior or guardian.
func (o *ordering) familyNotes(notef func(string, ...any)) {
	for _, id := range o.ids {
		f, ok := o.familyOf(id)
		junior := id != f.guardian
		switch {
		case !ok:
		case junior && f.guardian == o.head && o.sentBack(id):
			notef("%s is of standing back, but rides with the guardian %s, who leads: leave a gap behind %s, or name another leader.",
				id, f.guardian, id)
		case o.sentBack(id) || !f.back:
		case junior && f.guardian == o.tail:
			notef("%s, a junior, rides with the guardian %s, who marks the back.", id, f.guardian)
		case junior:
			notef("%s, a junior, rides at the back with the guardian %s.", id, f.guardian)
		case id != o.tail:
			notef("%s rides at the back with the junior whose guardian %s is.", id, id)
		}
	}
}
