package policy

import (
	"sort"

	pb "gritward/proto/gritward/v1"
)

// movedRules gives the least set of rules that, taken out, leaves the rules common to both policies in one order: those
// outside a longest increasing sequence of old places. was gives the old places.
func movedRules(before *pb.Policy, was map[string]int, after *pb.Policy) map[string]bool {
	var ids []string
	var places []int
	for _, rule := range after.GetRules() {
		if place, common := was[rule.GetId()]; common {
			ids, places = append(ids, rule.GetId()), append(places, place)
		}
	}
	stays := make(map[int]bool, len(before.GetRules()))
	for _, i := range longestIncreasing(places) {
		stays[i] = true
	}
	moved := map[string]bool{}
	for i, id := range ids {
		if !stays[i] {
			moved[id] = true
		}
	}
	return moved
}

// longestIncreasing gives the indices of a longest increasing subsequence of distinct numbers, by patience sorting.
func longestIncreasing(numbers []int) []int {
	ends := []int{}                     // ends[k] is the index at which the increasing run of length k+1 with the least end ends
	before := make([]int, len(numbers)) // the index before it in that run
	for i, number := range numbers {
		k := sort.Search(len(ends), func(k int) bool { return numbers[ends[k]] >= number })
		before[i] = -1
		if k > 0 {
			before[i] = ends[k-1]
		}
		if k == len(ends) {
			ends = append(ends, i)
		} else {
			ends[k] = i
		}
	}
	run := make([]int, len(ends))
	if len(ends) == 0 {
		return run
	}
	for k, i := len(ends)-1, ends[len(ends)-1]; k >= 0; k, i = k-1, before[i] {
		run[k] = i
	}
	return run
}

// afterWhich says which rule the i-th one stands after.
func afterWhich(policy *pb.Policy, i int) string {
	if i == 0 {
		return "first"
	}
	return "after " + policy.GetRules()[i-1].GetId()
}
