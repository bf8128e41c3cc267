package phrase

import (
	"slices"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// ToDo is a remedy with the names of those whom it helps.
type ToDo struct {
	What string
	Who  []string
}

// LateToDo is what would help those who stand worse with a late start: each remedy once, in the order in which the riders stand.
// What falls short is told beside each rider, and not again.
func LateToDo(late *pb.LateStart) (all []*ToDo) {
	by := map[string]*ToDo{}
	for _, group := range late.GetGroups() {
		for _, rider := range group.GetWorse() {
			for _, finding := range rider.GetFindings() {
				what := finding.GetRemedy()
				if short := Sentence(finding.GetShortfall()); short != "" {
					what = strings.TrimSpace(strings.TrimPrefix(what, short))
				}
				if what == "" {
					continue
				}
				one := by[what]
				if one == nil {
					one = &ToDo{What: what}
					by[what], all = one, append(all, one)
				}
				if who := rider.GetDisplayName(); !slices.Contains(one.Who, who) {
					one.Who = append(one.Who, who)
				}
			}
		}
	}
	return all
}
