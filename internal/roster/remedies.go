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
	for _, try := range e.tries(one, plan, option) {
		p := e.copied()
		try.change(&p)
		result, err := placement.Solve(e.ctx, p)
		if err != nil {
			return err
		}
		if ridesIn(result)[e.id] == one.Group {
			one.Remedies = append(one.Remedies, &pb.Remedy{
				Words: fmt.Sprintf("%s, and you ride in %s.", try.words, plan.Title), Group: one.Group, Standing: one.Standing})
		}
	}
	return nil
}

// mend tries the ways to put the bike right for a group where it is held or rides at the back.
func (e *explainer) mend(one *pb.GroupOption, plan *pb.GroupPlan) error {
	if one.Standing < pb.Standing_BACK {
		return nil
	}
	subject, book := e.entrants[e.id].Subject(), e.in.Policy.Book()
	ways := readiness.Lifts(book, subject, plan, e.in.Now).Ways
	slices.SortStableFunc(ways, func(a, b *pb.LiftWay) int { return len(a.Steps) - len(b.Steps) }) // the least work first
	for _, way := range ways {
		p, stands := e.copied(), map[string]pb.Standing{}
		rider := riderOf(&p, e.id)
		for _, group := range e.in.Plan.Groups {
			stands[group.Group] = readiness.After(book, subject, plan, way, group, e.in.Now)
			rider.Standings[group.Group] = standings[stands[group.Group]]
		}
		result, err := placement.Solve(e.ctx, p)
		if err != nil {
			return err
		}
		if ridesIn(result)[e.id] == one.Group {
			one.Remedies = append(one.Remedies, &pb.Remedy{Words: way.Words, Group: one.Group, Standing: stands[one.Group]})
		}
	}
	return nil
}

// try is a change to what was asked of the optimiser.
type try struct {
	words  string
	change func(*placement.Problem)
}

// tries are the changes worth trying for a group: of its limits that bind, of its roles, of the rider's wish and pace.
func (e *explainer) tries(one *pb.GroupOption, plan *pb.GroupPlan, option placement.Option) []try {
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
	return append(list, e.more(one)...)
}

// more tries people who would let a group run that does not.
func (e *explainer) more(one *pb.GroupOption) []try {
	idle := slices.ContainsFunc(e.result.Groups, func(g placement.GroupResult) bool { return g.ID == one.Group && !g.Runs })
	if pin := e.groupPin(one.Group); !idle || pin != nil && !pin.Runs {
		return nil
	}
	add, found, err := placement.LetsRun(e.ctx, e.asked, one.Group)
	if err != nil || !found {
		return nil // told by idle, where an error is one
	}
	return []try{{peopleWords(add), func(p *placement.Problem) { *p = placement.Added(*p, one.Group, add) }}}
}

// copied is what was asked of the optimiser, with riders and groups that may be changed.
func (e *explainer) copied() placement.Problem {
	p := placement.With(e.asked)
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
