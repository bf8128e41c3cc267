package placement

import (
	"cmp"
	"context"
	"slices"
)

// Conflicts explains what an answer leaves undone of what was asked: that every
// rider has a place, and that the groups of must run. For each such wish there is
// a conflict between it, the rules, what the answer does do (that the others have
// a place counts as one constraint) and, for a rider, the groups of must that run;
// riders for whom the same constraints are in the way share one, which of riders who are
// alike needs no trial. The smallest conflict comes first. None is told for a rider whom the answer leaves out without
// need, because the search met its limit; nor once as many placements were tried as
// conflictWork allows.
func Conflicts(ctx context.Context, p Problem, r Result, must []string) ([]Conflict, error) {
	if err := validate(p); err != nil {
		return nil, err
	}
	u := &undone{ctx: ctx, p: p, placed: map[string]bool{}, near: map[string]string{}, alike: newAlike(p), found: map[string]int{}, tries: triesWithin(conflictWork, p)}
	for _, s := range r.Seats() {
		u.placed[s.Rider], u.near[s.Rider] = true, s.Group
	}
	var idle []string
	for _, g := range r.Groups {
		switch {
		case !slices.Contains(must, g.ID):
		case g.Runs:
			u.run = append(u.run, g.ID)
		default:
			idle = append(idle, g.ID)
		}
	}
	for _, id := range idle {
		u.group(id)
	}
	for _, one := range r.Unplaced {
		u.rider(one.Rider)
	}
	slices.SortStableFunc(u.list, func(a, b Conflict) int { return cmp.Compare(len(a.Constraints), len(b.Constraints)) })
	return u.list, u.err
}

// conflictWork bounds the placements tried for all conflicts of an answer together, in
// riders times groups: over 900 for 200 riders and eight groups, 150 for 1,000 and ten.
// A count and not a time, so that every machine tells the same.
const conflictWork = 1_500_000

// triesWithin is how many placements may be tried within so much work, one at least.
func triesWithin(work int, p Problem) int { return 1 + work/(len(p.Riders)*len(p.Groups)+1) }

// undone gathers conflicts.
type undone struct {
	ctx    context.Context
	p      Problem
	placed map[string]bool
	near   map[string]string // and where
	run    []string          // groups that must run, and do
	tries  int               // placements that may yet be tried
	alike  *alike
	found  map[string]int // of riders who are alike, in the list
	list   []Conflict
	err    error
}

// group explains why a group that must run does not.
func (u *undone) group(id string) {
	u.find(Constraint{Kind: Runs, Group: id},
		&finder{ctx: u.ctx, near: u.near, p: u.asked(func(Rider) bool { return false }, append(slices.Clone(u.run), id))})
}

// rider explains why a rider has no place, by a conflict already found if one fits.
func (u *undone) rider(id string) {
	kind := u.alike.kind(id, false)
	if i, ok := u.found[kind]; ok && kind != "" {
		u.likewise(i, id)
		return
	}
	f := &finder{ctx: u.ctx, crowd: u.placed, near: u.near,
		p: u.asked(func(r Rider) bool { return r.ID == id || u.placed[r.ID] }, u.run)}
	for i := range u.list {
		c := &u.list[i]
		if c.Wish.Kind != Rides || !impersonal(c.Constraints[1:]) {
			continue
		}
		kept := map[Constraint]bool{{Kind: Rides, Rider: id}: true}
		for _, one := range c.Constraints[1:] {
			kept[one] = true
		}
		if f.most = u.tries; u.tries > 0 && u.err == nil && !f.possible(kept) {
			u.tries -= f.tries
			u.likewise(i, id)
			u.found[kind] = i
			return
		}
	}
	before := len(u.list)
	if u.find(Constraint{Kind: Rides, Rider: id}, f); len(u.list) > before {
		u.found[kind] = before
	}
}

// likewise adds a rider to a conflict; where that is about its own rider, one like it about this rider.
func (u *undone) likewise(i int, id string) {
	c := &u.list[i]
	if impersonal(c.Constraints[1:]) {
		c.Likewise = append(c.Likewise, id)
		return
	}
	u.list = append(u.list, Conflict{Wish: Constraint{Kind: Rides, Rider: id}, Smallest: c.Smallest,
		Constraints: swapped(c.Constraints, c.Wish.Rider, id)})
}

// impersonal reports whether constraints are about no rider.
func impersonal(list []Constraint) bool {
	return !slices.ContainsFunc(list, func(c Constraint) bool { return c.Rider != "" || c.Party != "" })
}

// asked is the problem with what is wished for.
func (u *undone) asked(rides func(Rider) bool, run []string) Problem {
	p := without(u.p, func(Constraint) bool { return false })
	for i := range p.Riders {
		p.Riders[i].MustRide = rides(p.Riders[i])
	}
	for i := range p.Groups {
		p.Groups[i].MustRun = slices.Contains(run, p.Groups[i].ID)
	}
	return p
}

// find adds the conflict that a finder finds for a wish.
func (u *undone) find(wish Constraint, f *finder) {
	if f.most = u.tries; u.err != nil || u.tries <= f.tries {
		u.tries = 0
		return
	}
	for _, c := range Constraints(f.p) {
		if c.Kind != Rides || !f.crowd[c.Rider] {
			f.all = append(f.all, c)
		}
	}
	if len(f.crowd) > 0 {
		f.all = append(f.all, Constraint{Kind: OthersRide})
		slices.SortFunc(f.all, compareConstraints)
	}
	c := f.find()
	u.tries -= f.tries
	c.Wish = wish
	if u.err = f.err; u.err == nil && len(c.Constraints) > 0 {
		u.list = append(u.list, c)
	}
}
