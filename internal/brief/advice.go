package brief

import (
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// sharedFrom is how many riders with advice by one rule are told of together instead of one by one, so that the brief can
// still be read out.
const sharedFrom = 3

// advice is what riders have in common where a rule only advises. What is worse than advice is told for each rider.
type advice struct {
	order  []adviceKey
	riders map[adviceKey][]string
	first  map[adviceKey]*pb.Finding
	count  map[string]int // riders by rule
}

// adviceKey is what makes two findings the same to those who hear them.
type adviceKey struct{ rule, needed, remedy string }

func adviceOf(f *pb.Finding) adviceKey {
	return adviceKey{f.GetRule(), f.GetNeeded(), f.GetRemedy()}
}

func (t *teller) sharedAdvice() *advice {
	a := &advice{riders: map[adviceKey][]string{}, first: map[adviceKey]*pb.Finding{}, count: map[string]int{}}
	for _, g := range t.groups {
		for _, rider := range ridersOf(g.RosterGroup) {
			counted := map[string]bool{}
			for _, f := range rider.GetFindings() {
				if f.GetStanding() != pb.Standing_ADVISED {
					continue
				}
				if !counted[f.GetRule()] {
					counted[f.GetRule()] = true
					a.count[f.GetRule()]++
				}
				key := adviceOf(f)
				if a.first[key] == nil {
					a.order, a.first[key] = append(a.order, key), f
				}
				a.riders[key] = append(a.riders[key], t.rider(rider))
			}
		}
	}
	return a
}

// shared tells whether a finding is told together with those of others.
func (a *advice) shared(f *pb.Finding) bool {
	return f.GetStanding() == pb.Standing_ADVISED && a.count[f.GetRule()] >= sharedFrom
}

// without are the findings that are told for a rider alone.
func (a *advice) without(fs []*pb.Finding) []*pb.Finding {
	var own []*pb.Finding
	for _, f := range fs {
		if !a.shared(f) {
			own = append(own, f)
		}
	}
	return own
}

// lines tell what is shared, each once with everybody's name.
func (a *advice) lines() []string {
	var out []string
	for _, key := range a.order {
		f := a.first[key]
		if !a.shared(f) {
			continue
		}
		line := "Advice for " + phrase.List(a.riders[key]) + ". Needed: " + needed(f) + policyLine(f) + "."
		if remedy := f.GetRemedy(); remedy != "" {
			line += " To put it right: " + phrase.Stopped(remedy)
		}
		out = append(out, line)
	}
	return out
}
