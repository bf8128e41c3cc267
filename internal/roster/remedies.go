package roster

import (
	"fmt"
	"slices"

	"gritward/internal/placement"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// remedies fills in what would bring the rider into a group, or let the rider ride better placed in the own one. Each is
// carried out on a copy and everybody placed anew; only what then works is told.
func (e *explainer) remedies(one *pb.GroupOption, plan *pb.GroupPlan, option placement.Option) error {
	if err := e.mend(one, plan); err != nil {
		return err
	}
	if e.rides[e.id] == one.Group || len(one.Remedies) > 0 {
		return nil
	}
	for _, try := range e.tries(e.asked, e.result, one, plan, option) {
		works, err := e.works(e.copied(), try, one.Group)
		if err != nil {
			return err
		}
		if works {
			one.Remedies = append(one.Remedies, &pb.Remedy{
				Words: fmt.Sprintf("%s, and you ride in %s.", try.words, plan.Title), Group: one.Group, Standing: one.Standing})
		}
	}
	if len(one.Remedies) > 0 {
		return nil
	}
	return e.mendAnd(one, plan)
}

// works tells whether the rider rides in a group after a change to a problem, which is used up.
func (e *explainer) works(p placement.Problem, try try, group string) (bool, error) {
	try.change(&p)
	result, err := placement.Solve(e.ctx, p)
	return ridesIn(result)[e.id] == group, err
}

// mend tries the ways to put the bike right for a group where it is held or rides at the back.
func (e *explainer) mend(one *pb.GroupOption, plan *pb.GroupPlan) error {
	if one.Standing < pb.Standing_BACK {
		return nil
	}
	for _, way := range e.ways(plan) {
		p, stands := e.mended(plan, way)
		result, err := placement.Solve(e.ctx, p)
		if err != nil {
			return err
		}
		if ridesIn(result)[e.id] == one.Group {
			one.Remedies = append(one.Remedies, &pb.Remedy{Words: way.Words, Group: one.Group, Standing: stands})
		}
	}
	return nil
}

// ways are those to put the bike right for a group, the least work first.
func (e *explainer) ways(plan *pb.GroupPlan) []*pb.LiftWay {
	ways := readiness.Lifts(e.in.Policy.Book(), e.entrants[e.id].Subject(), plan, e.in.Now).Ways
	slices.SortStableFunc(ways, func(a, b *pb.LiftWay) int { return len(a.Steps) - len(b.Steps) })
	return ways
}

// mended is what was asked of the optimiser with the bike put right one way for a group, and the standing there then.
func (e *explainer) mended(plan *pb.GroupPlan, way *pb.LiftWay) (p placement.Problem, stands pb.Standing) {
	p = e.copied()
	rider := riderOf(&p, e.id)
	for _, group := range e.in.Plan.Groups {
		after := readiness.After(e.in.Policy.Book(), e.entrants[e.id].Subject(), plan, way, group, e.in.Now)
		if rider.Standings[group.Group] = standings[after]; group.Group == plan.Group {
			stands = after
		}
	}
	return p, stands
}

// try is a change to what was asked of the optimiser.
type try struct {
	words  string
	change func(*placement.Problem)
}

// tries are the changes to a problem, with its answer, worth trying for a group: of its limits that bind, of its roles, of
// the rider's wish and pace.
func (e *explainer) tries(asked placement.Problem, result placement.Result, one *pb.GroupOption, plan *pb.GroupPlan, option placement.Option) []try {
	var list []try
	group := func(words string, change func(*placement.Group)) {
		list = append(list, try{words, func(p *placement.Problem) {
			for i := range p.Groups {
				if p.Groups[i].ID == one.Group {
					change(&p.Groups[i])
				}
			}
		}})
	}
	for _, c := range slices.Concat(option.Limits, option.Binding) {
		switch {
		case c.Group != one.Group:
		case c.Kind == placement.AtMost:
			group("One place more in "+plan.Title, func(g *placement.Group) { g.MaxSize++ })
		case c.Kind == placement.BackPlacesOf:
			group("One back place more in "+plan.Title, func(g *placement.Group) { g.BackPlaces++ })
		}
	}
	rider := func(words string, change func(*placement.Rider)) {
		list = append(list, try{words, func(p *placement.Problem) { change(riderOf(p, e.id)) }})
	}
	if e.entrants[e.id].Signup.PreferredGroup != one.Group {
		rider("Wish for "+plan.Title, func(r *placement.Rider) { r.Preferred = one.Group })
	}
	if one.PaceOffKmh != 0 {
		rider(fmt.Sprintf("With %.4g km/h within your own pace", plan.PaceKmh), func(r *placement.Rider) {
			r.PaceMinKmh, r.PaceMaxKmh = min(r.PaceMinKmh, plan.PaceKmh), max(r.PaceMaxKmh, plan.PaceKmh)
		})
	}
	return append(list, e.more(asked, result, one)...)
}

// more tries people who would let a group run that does not.
func (e *explainer) more(asked placement.Problem, result placement.Result, one *pb.GroupOption) []try {
	idle := slices.ContainsFunc(result.Groups, func(g placement.GroupResult) bool { return g.ID == one.Group && !g.Runs })
	if pin := e.groupPin(one.Group); !idle || pin != nil && !pin.Runs {
		return nil
	}
	add, found, err := placement.LetsRun(e.ctx, asked, one.Group)
	if err != nil || !found {
		return nil // told by idle, where an error is one
	}
	return []try{{peopleWords(add), func(p *placement.Problem) { *p = placement.Added(*p, one.Group, add) }}}
}

// copied is what was asked of the optimiser, with riders and groups that may be changed.
func (e *explainer) copied() placement.Problem { return e.copyOf(e.asked) }

func (e *explainer) copyOf(asked placement.Problem) placement.Problem {
	p := placement.With(asked)
	rider := riderOf(&p, e.id)
	stands := map[string]placement.Standing{}
	for group, standing := range rider.Standings {
		stands[group] = standing
	}
	rider.Standings = stands
	return p
}

func riderOf(p *placement.Problem, id string) *placement.Rider {
	for i := range p.Riders {
		if p.Riders[i].ID == id {
			return &p.Riders[i]
		}
	}
	return &placement.Rider{}
}
