package placement

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// Limits of the search for a conflict, in placements tried.
const (
	// smallSet is up to which size a conflict is made the smallest there is; a
	// larger one is only such that nothing in it can be left out.
	smallSet = 10
	// maxTries is how many placements are tried to make it the smallest.
	maxTries = 600
)

// Conflict is a set of constraints that cannot all hold, though any of them less
// they can.
type Conflict struct {
	// Wish is the demand that the conflict explains; the zero value, Rides of
	// nobody, where none was singled out.
	Wish        Constraint
	Constraints []Constraint // as [Constraints] lists them
	// Smallest: no conflict of fewer constraints holds one of the same wishes.
	Smallest bool
	// Likewise are riders for whom the same holds in place of the one of the wish.
	Likewise []string
}

// FindConflict finds constraints of a problem that cannot hold together; none when
// all can. Up to a size of ten it is a smallest conflict, of equally small ones
// the first as [Constraints] lists them. A problem without MustRide and MustRun
// has none: that nobody rides is always allowed.
//
// The first conflict comes from halving the list (Junker: QuickXplain, AAAI 2004).
// A smallest one from hitting sets: every conflict meets the complement of every
// largest set that can hold, so a smallest set that meets all those found, once it
// cannot hold itself, is a smallest conflict (Ignatiev, Previti, Liffiton,
// Marques-Silva, CP 2015).
func FindConflict(ctx context.Context, p Problem) (Conflict, error) {
	if err := validate(p); err != nil {
		return Conflict{}, err
	}
	f := &finder{ctx: ctx, p: p, all: Constraints(p)}
	return f.find(), f.err
}

// finder looks for a conflict among the constraints of a problem, by index.
type finder struct {
	ctx   context.Context
	p     Problem
	all   []Constraint
	crowd map[string]bool   // riders whose places are one constraint, OthersRide
	near  map[string]string // the groups of a placement to begin from: the nearer, the sooner found
	wish  []Constraint      // always kept, and not told
	tries int
	most  int  // placements to try; 0 for as many as it takes
	spent bool // it took more: what was found shows nothing
	err   error
	can   []members // sets found to hold
	not   []members // and not to
}

func (f *finder) find() Conflict {
	everything := make([]int, len(f.all))
	for i := range everything {
		everything[i] = i
	}
	if f.canHold(everything) {
		return Conflict{}
	}
	set := f.halve(nil, false, everything)
	slices.Sort(set)
	var c Conflict
	if f.spent {
		return c
	}
	if len(set) <= smallSet {
		set, c.Smallest = f.smallest(set)
	}
	for _, i := range set {
		c.Constraints = append(c.Constraints, f.all[i])
	}
	return c
}

// canHold reports whether some placement keeps the constraints of a set. Part of a set
// that can hold can, and a set of which part cannot does not, without a trial.
func (f *finder) canHold(set []int) bool {
	asked := newMembers(len(f.all), set)
	switch {
	case slices.ContainsFunc(f.not, func(part members) bool { return part.within(asked) }):
		return false
	case slices.ContainsFunc(f.can, asked.within):
		return true
	}
	holds := f.trial(set)
	switch {
	case f.spent || f.err != nil:
	case holds:
		f.can = append(f.can, asked)
	default:
		f.not = append(f.not, asked)
	}
	return holds
}

// trial is canHold by placing everybody.
func (f *finder) trial(set []int) bool {
	kept := make(map[Constraint]bool, len(set)+len(f.wish))
	for _, c := range f.wish {
		kept[c] = true
	}
	for _, i := range set {
		kept[f.all[i]] = true
	}
	return f.possible(kept)
}

// possible is canHold for the constraints themselves. A search that met its limit
// counts as one that found a placement: a conflict is claimed only where there is
// proof.
func (f *finder) possible(kept map[Constraint]bool) bool {
	if f.spent = f.spent || f.most > 0 && f.tries >= f.most; f.err != nil || f.spent {
		return true
	}
	f.tries++
	p := without(f.p, func(c Constraint) bool {
		if c.Kind == Rides && f.crowd[c.Rider] {
			c = Constraint{Kind: OthersRide}
		}
		return !kept[c]
	})
	for i := range p.Riders { // only whether, not how well
		r := &p.Riders[i]
		r.PaceMinKmh, r.PaceMaxKmh, r.Preferred, r.Previous = 0, MaxPaceKmh, "", f.near[r.ID]
	}
	if p.NodeLimit == 0 {
		p.NodeLimit = DefaultNodeLimit
	}
	s := newModel(p).optimum(f.ctx, true)
	if s.err != nil {
		f.err = fmt.Errorf("placement: stopped while looking for what cannot hold together; allow more time: %w", s.err)
	}
	return s.best.found || s.lost < math.MaxInt64
}

// halve finds a conflict within a list that cannot hold together with the base.
// grown says that the base has just been added to, so that it may be enough.
func (f *finder) halve(base []int, grown bool, list []int) []int {
	if grown && !f.canHold(base) {
		return nil
	}
	if len(list) <= 1 {
		return list
	}
	first, second := list[:len(list)/2], list[len(list)/2:]
	late := f.halve(slices.Concat(base, first), true, second)
	early := f.halve(slices.Concat(base, late), len(late) > 0, first)
	return slices.Concat(early, late)
}

// smallest looks for a conflict smaller than one known. sure is false when it gave
// up; then the known one is as good as it gets.
func (f *finder) smallest(known []int) (set []int, sure bool) {
	h := &hitting{}
	for limit := f.tries + maxTries; f.tries < limit && f.err == nil && !f.spent; {
		set, ok := h.least(len(known))
		switch {
		case !ok:
			return known, false
		case !f.canHold(set):
			return set, true
		case f.spent:
			return known, false
		}
		h.sets = append(h.sets, f.rest(set))
	}
	return known, false
}

// rest grows a set that can hold as far as it will go, and returns what is left
// over.
func (f *finder) rest(set []int) []int {
	in := slices.Clone(set)
	var left []int
	var add func(list []int)
	add = func(list []int) {
		switch {
		case len(list) == 0:
		case f.canHold(slices.Concat(in, list)):
			in = append(in, list...)
		case len(list) == 1:
			left = append(left, list[0])
		default:
			add(list[:len(list)/2])
			add(list[len(list)/2:])
		}
	}
	var others []int
	for i := range f.all {
		if !slices.Contains(set, i) {
			others = append(others, i)
		}
	}
	add(others)
	return left
}
