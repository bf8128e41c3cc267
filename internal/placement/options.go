package placement

import (
	"context"
	"fmt"
	"slices"
)

// Option is what it takes for one rider to ride in one group.
type Option struct {
	Group string
	// Possible: with the rider there by force all hard rules can hold.
	Possible bool
	// Binding is a smallest set of constraints that stand in the way together, when
	// it is not possible; empty when the search met its limit, or conflictWork was spent.
	Binding []Constraint
	// Objective is the best there is with the rider there, when it is possible.
	Objective Objective
	// Proven: that is sure. Otherwise the search met its limit, and Possible and
	// Objective are of the best that it found.
	Proven bool
	// Limits are constraints of the group of which each, were it not there, would
	// let the rider ride in it without cost to the rest: in one of the best answers.
	Limits []Constraint
}

// Forced is the problem in which a rider must ride, and in that group.
func Forced(p Problem, rider, group string) Problem {
	p.Riders = slices.Clone(p.Riders)
	for i := range p.Riders {
		if p.Riders[i].ID == rider {
			p.Riders[i].Pinned, p.Riders[i].MustRide = group, true
		}
	}
	return p
}

// Options tells for each group of a problem what it takes for a rider to ride in
// it, by placing everybody anew with the rider there by force; a rider pinned
// elsewhere is bound by the pin. best is the objective of the answer to the
// problem. Groups are in the order of the problem.
func Options(ctx context.Context, p Problem, best Objective, rider string) ([]Option, error) {
	if err := validate(p); err != nil {
		return nil, err
	}
	o := &options{ctx: ctx, rider: rider}
	var list []Option
	for _, g := range p.Groups {
		list = append(list, o.whole(p, best, g.ID))
	}
	return list, o.err
}

// OptionIn is what Options tells of one group.
func OptionIn(ctx context.Context, p Problem, best Objective, rider, group string) (Option, error) {
	if err := validate(p); err != nil {
		return Option{}, err
	}
	o := &options{ctx: ctx, rider: rider}
	return o.whole(p, best, group), o.err
}

type options struct {
	ctx   context.Context
	rider string
	err   error
}

// whole is of, with Limits.
func (o *options) whole(p Problem, best Objective, group string) Option {
	option := o.of(p, group)
	if option.Possible && option.Proven && best.Better(option.Objective) {
		option.Limits = o.limits(p, group)
	}
	return option
}

func (o *options) of(p Problem, group string) Option {
	for _, r := range p.Riders {
		if r.ID == o.rider && r.Pinned != "" && r.Pinned != group {
			return Option{Group: group, Proven: true, Binding: []Constraint{{Kind: PinnedTo, Rider: r.ID, Group: r.Pinned}}}
		}
	}
	forced := Forced(p, o.rider, group)
	at, found, proven := o.best(forced)
	option := Option{Group: group, Possible: found, Objective: at, Proven: proven}
	if o.err == nil && !found && proven {
		option.Binding = o.binding(forced)
	}
	return option
}

// binding is what stands in the way of the rider, without the wish itself.
func (o *options) binding(forced Problem) []Constraint {
	f := &finder{ctx: o.ctx, p: forced, most: triesWithin(conflictWork, forced)}
	for _, c := range Constraints(forced) {
		if c.Rider == o.rider && (c.Kind == Rides || c.Kind == PinnedTo) {
			f.wish = append(f.wish, c)
		} else {
			f.all = append(f.all, c)
		}
	}
	c := f.find()
	o.keep(f.err)
	return c.Constraints
}

func (o *options) limits(p Problem, group string) []Constraint {
	var list []Constraint
	for _, c := range Constraints(p) {
		own := c.Kind >= BackPlacesOf && c.Kind <= NeedsBackMarker
		if !own || c.Group != group || o.err != nil {
			continue
		}
		freed := Without(p, c)
		most, _, sure := o.best(freed)
		if at, found, _ := o.best(Forced(freed, o.rider, group)); found && sure && !most.Better(at) {
			list = append(list, c)
		}
	}
	return list
}

// best is the best objective of a problem, without settling ties.
func (o *options) best(p Problem) (best Objective, found, proven bool) {
	if o.err != nil {
		return best, false, false
	}
	if p.NodeLimit == 0 {
		p.NodeLimit = DefaultNodeLimit
	}
	m := newModel(p)
	s := m.optimum(o.ctx, false)
	if s.err != nil {
		o.keep(fmt.Errorf("placement: stopped while trying groups; allow more time: %w", s.err))
		return best, false, false
	}
	return m.weights.objective(s.best.cost), s.best.found, s.bound() == s.best.cost
}

func (o *options) keep(err error) {
	if o.err == nil {
		o.err = err
	}
}

// Additions are people who are not there: how many who may lead, who may mark the
// back, and others.
type Additions struct{ Leaders, BackMarkers, Riders int }

// LetsRun finds the fewest people who would let a group run, if they came to ride
// in it at its pace on bikes without findings, by placing everybody anew with them:
// of equally few those with fewer qualifications. found is false when no number up
// to the group's least size is enough, two at least, or none was found within letsRunWork.
func LetsRun(ctx context.Context, p Problem, group string) (add Additions, found bool, err error) {
	if err := validate(p); err != nil {
		return add, false, err
	}
	var g Group
	for _, x := range p.Groups {
		if x.ID == group {
			g = x
		}
	}
	tries := triesWithin(letsRunWork, p)
	for total := 1; total <= max(g.MinSize, 2); total++ {
		for roles := 0; roles <= min(total, 2); roles++ {
			for leaders := min(roles, 1); leaders >= max(0, roles-1); leaders-- {
				if tries--; tries < 0 {
					return add, false, nil
				}
				add := Additions{Leaders: leaders, BackMarkers: roles - leaders, Riders: total - roles}
				if runs, err := runsWith(ctx, p, g, add); runs || err != nil {
					return add, runs, err
				}
			}
		}
	}
	return add, false, nil
}

// letsRunWork bounds the placements tried for one group, in riders times groups: over 60
// for 200 riders and eight groups, eleven for 1,000 and ten.
const letsRunWork = 100_000

// runsWith places everybody and the people added, and tells whether the group runs.
func runsWith(ctx context.Context, p Problem, g Group, add Additions) (bool, error) {
	r, err := Solve(ctx, Added(p, g.ID, add))
	return slices.ContainsFunc(r.Groups, func(x GroupResult) bool { return x.ID == g.ID && x.Runs }), err
}

// Added is the problem with people added, who ride in one group only, at its pace, on bikes without findings.
func Added(p Problem, group string, add Additions) Problem {
	pace := 0.0
	for _, g := range p.Groups {
		if g.ID == group {
			pace = g.PaceKmh
		}
	}
	p.Riders = slices.Clone(p.Riders)
	for i := range add.Leaders + add.BackMarkers + add.Riders {
		p.Riders = append(p.Riders, Rider{
			ID:         fmt.Sprintf("\xff%d", i), // after everybody
			PaceMinKmh: pace, PaceMaxKmh: pace, Standings: map[string]Standing{group: Clear},
			MayLead: i < add.Leaders, MayMarkBack: i >= add.Leaders && i < add.Leaders+add.BackMarkers,
		})
	}
	return p
}
