package policy

import (
	"fmt"
	"slices"

	pb "gritward/proto/gritward/v1"
)

// maxCompared is how many rules of one check are compared with one another: beyond it the comparison, of each with each,
// would take longer than a person waits. Policies of people have some dozens of rules.
const maxCompared = 300

// hidden warns of rules that add nothing: another one asks as much or more, whenever they apply, and costs as much or
// more. Of two that are alike the later one is named.
func (c *checker) hidden() {
	byCheck := map[pb.Check][]int{}
	rules := c.policy.GetRules()
	for i, rule := range rules {
		if kind := rule.GetCheck(); len(byCheck[kind]) < maxCompared {
			byCheck[kind] = append(byCheck[kind], i)
		}
	}
	for _, check := range allChecks(byCheck) {
		for _, i := range byCheck[check] {
			if by := c.hiddenBy(byCheck[check], i); by >= 0 {
				c.warn(rulePath(i), fmt.Sprintf("the rule %s adds nothing: the rule %s on line %d asks as much in the same circumstances, and costs as much",
					rules[i].GetId(), rules[by].GetId(), c.positions.Line(rulePath(by))), "take it out, or make it ask for more than "+rules[by].GetId())
			}
		}
	}
}

func allChecks(byCheck map[pb.Check][]int) []pb.Check {
	checks := make([]pb.Check, 0, len(byCheck))
	for check := range byCheck {
		checks = append(checks, check)
	}
	slices.Sort(checks)
	return checks
}

// hiddenBy finds the first of the rules that hides the i-th one; -1 if none does.
func (c *checker) hiddenBy(others []int, i int) int {
	rules := c.policy.GetRules()
	valid := c.policy.GetDeclaration().GetValid()
	for _, other := range others {
		if other != i && hides(rules[other], rules[i], valid) && (other < i || !hides(rules[i], rules[other], valid)) {
			return other
		}
	}
	return -1
}

// covers tells whether a rule applies whenever another one does.
func covers(wide, narrow *pb.Rule) bool {
	for _, circumstance := range wide.GetUnless() {
		if !slices.Contains(narrow.GetUnless(), circumstance) {
			return false
		}
	}
	if slices.Contains(wide.GetWhen(), pb.Circumstance_ALWAYS) {
		return true
	}
	for _, circumstance := range narrow.GetWhen() {
		if !slices.Contains(wide.GetWhen(), circumstance) && !slices.Contains(narrow.GetUnless(), circumstance) {
			return false
		}
	}
	return true
}
