package placement

import "context"

// Trials tell what it takes for riders to ride in groups, as [Options] does but without
// Limits, each after placing everybody anew. Riders who are alike share what was found.
type Trials struct {
	p     Problem
	alike *alike
	known map[string]trial
	left  int
}

// trial is what was found for one rider.
type trial struct {
	rider  string
	option Option
}

// NewTrials allows so much work: placements tried, times riders, times groups. It is a
// count and not a time, so that every machine tells the same. The error tells every
// malformed field of the problem.
func NewTrials(p Problem, work int) (*Trials, error) {
	if err := validate(p); err != nil {
		return nil, err
	}
	return &Trials{p: p, alike: newAlike(p), known: map[string]trial{}, left: triesWithin(work, p)}, nil
}

// Option tells of one rider and group; false when the work is spent and nobody alike was
// tried.
func (t *Trials) Option(ctx context.Context, rider, group string) (Option, bool, error) {
	kind := t.alike.kind(rider, true)
	if kind == "" {
		kind = "rider " + rider
	}
	kind += " in " + group
	if found, ok := t.known[kind]; ok {
		option := found.option
		option.Binding = swapped(option.Binding, found.rider, rider)
		return option, true, nil
	}
	if t.left == 0 {
		return Option{}, false, nil
	}
	t.left--
	o := &options{ctx: ctx, rider: rider}
	option := o.of(t.p, group)
	if o.err == nil {
		t.known[kind] = trial{rider, option}
	}
	return option, true, o.err
}
