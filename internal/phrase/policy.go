package phrase

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// PolicyTerm tells for which rides a policy counts: "for rides from 1 October 2026 to 31 December 2026; policy 3 follows".
func PolicyTerm(policy *pb.PolicyRevision) string {
	from := Day(policy.GetEffectiveFrom())
	switch {
	case policy.GetReplacedBy() > 0:
		return fmt.Sprintf("for no ride any more: policy %d from %s took its place", policy.GetReplacedBy(), from)
	case policy.GetFollowedBy() > 0:
		return fmt.Sprintf("for rides from %s to %s; policy %d follows", from, Day(policy.GetEffectiveUntil()), policy.GetFollowedBy())
	}
	return "for rides from " + from + " on"
}

// InPlaceOf tells which policy from the same day a new one replaces; "" when none.
func InPlaceOf(policy *pb.PolicyRevision) string {
	if policy.GetReplaces() == 0 {
		return ""
	}
	return fmt.Sprintf(" It takes the place of policy %d, which counted from the same day.", policy.GetReplaces())
}

// PolicyLastDay is the last day of a policy in a table; "" where none is known.
func PolicyLastDay(policy *pb.PolicyRevision) string {
	if policy.GetReplacedBy() > 0 {
		return fmt.Sprintf("replaced by %d", policy.GetReplacedBy())
	}
	return policy.GetEffectiveUntil()
}

// Rule is a rule's name in words: "guard fit" for guard-fit.
func Rule(id string) string { return strings.ReplaceAll(id, "-", " ") }

// RuleTitle is a rule's name as a heading: "Guard fit".
func RuleTitle(id string) string { return Bare(Sentence(Rule(id))) }

// Change is a change that is the same in several groups.
type Change struct {
	Bike, Ride string
	Groups     []string
	From, To   pb.Standing
	Rules      []string
}

// Changes puts together what is the same in several groups, in the order of the first.
func Changes(changes []*pb.StandingChange) []Change {
	var all []Change
	at := map[string]int{}
	for _, change := range changes {
		key := fmt.Sprint(change.GetRide(), " ", change.GetBike(), " ", change.GetFrom(), change.GetTo(), change.GetRules())
		i, known := at[key]
		if !known {
			i = len(all)
			at[key] = i
			all = append(all, Change{Bike: change.GetBike(), Ride: change.GetRide(), From: change.GetFrom(), To: change.GetTo(), Rules: change.GetRules()})
		}
		all[i].Groups = append(all[i].Groups, change.GetGroup())
	}
	return all
}

// ByRule counts the changes that each rule makes, most first: "guards 9, front-light 4".
func ByRule(changes []Change) string {
	counts := map[string]int{}
	for _, change := range changes {
		for _, rule := range change.Rules {
			counts[rule] += len(change.Groups)
		}
	}
	rules := slices.SortedFunc(maps.Keys(counts), func(a, b string) int {
		return cmp.Or(cmp.Compare(counts[b], counts[a]), strings.Compare(a, b))
	})
	for i, rule := range rules {
		rules[i] = fmt.Sprintf("%s %d", rule, counts[rule])
	}
	return strings.Join(rules, ", ")
}
