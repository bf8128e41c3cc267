package roster

import (
	"strings"

	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// bothWork bounds how many ways to put the bike right are tried together with something else, in riders times groups: 34
// for 60 riders and five groups, seven for 200 and eight, two for 1,000 and ten. Each takes some 20 placements.
const bothWork = 10_000

// mendAnd tries each way to put the bike right together with one thing more: what binds is asked again with the bike put
// right, since a held bike hides it. The first way that leads to something ends it.
func (e *explainer) mendAnd(one *pb.GroupOption, plan *pb.GroupPlan) error {
	if one.Standing < pb.Standing_BACK {
		return nil
	}
	for _, way := range e.ways(plan) {
		if e.both > bothWork/(len(e.asked.Riders)*len(e.asked.Groups)+1) {
			return nil
		}
		e.both++
		p, stands := e.mended(plan, way)
		result, err := placement.Solve(e.ctx, p)
		if err != nil {
			return err
		}
		option, err := placement.OptionIn(e.ctx, p, result.Objective, e.id, one.Group)
		if err != nil {
			return err
		}
		for _, try := range e.tries(p, result, one, plan, option) {
			works, err := e.works(e.copyOf(p), try, one.Group)
			if err != nil {
				return err
			}
			if works {
				words := try.words + "; " + strings.ToLower(way.Words[:1]) + way.Words[1:]
				one.Remedies = append(one.Remedies, &pb.Remedy{Words: words, Group: one.Group, Standing: stands})
			}
		}
		if len(one.Remedies) > 0 {
			return nil
		}
	}
	return nil
}
