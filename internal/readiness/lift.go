package readiness

import (
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// maxWays is the most ways that are told for each standing.
const maxWays = 3

// maxTried is the largest number of broken rules of which every set of remedies is tried, 255 sets. Beyond it one way is
// looked for: from all remedies those are taken back, the policy's last first, without which the standing is reached all
// the same. Nothing in that way can be left out, but a smaller way may exist. Of more than maxBroken nothing is tried
// out: the way is to mend them all.
const (
	maxTried  = 8
	maxBroken = 64
)

// Lifts finds what would lift the standing of a bike in a group: for each better standing that can be reached, the
// smallest sets of broken rules that are enough to meet, each set by itself, fewest first, then in the policy's order. A
// rule counts as met when its remedy has been carried out on a copy of the bike and all rules were judged again, as they
// stand at the start of the group: so one remedy may meet several rules, and one that breaks another rule is no way. Only
// rules that cost more than the standing to reach are among the remedies. A standing that no work on the bike reaches is
// left out.
func Lifts(book Book, bike Subject, group *pb.GroupPlan, at time.Time) *pb.Lift {
	c := newContext(&book, &bike, group, at)
	l := lifting{c: c, now: c.standing()}
	l.find()
	lift := &pb.Lift{Group: group.GetGroup(), Standing: l.now}
	for target := pb.Standing_CLEAR; target < l.now; target++ {
		for _, set := range l.ways(target) {
			lift.Ways = append(lift.Ways, l.way(set, target))
		}
	}
	if l.now > pb.Standing_CLEAR && (len(lift.Ways) == 0 || lift.Ways[0].Reaches > pb.Standing_CLEAR) {
		lift.Stays = l.stays()
	}
	return lift
}

// stays are the rules that cost something and are not met when all remedies have been carried out.
func (l *lifting) stays() (ids []string) {
	var all []int
	for i, b := range l.broken {
		if b.rule.form.cost > pb.Standing_CLEAR {
			all = append(all, i)
		}
	}
	c := l.mended(all)
	for _, rule := range c.book.Rules {
		rule = rule.ready()
		if rule.form.cost > pb.Standing_CLEAR && rule.form.applies(c.holds) && !rule.form.met(c) {
			ids = append(ids, rule.GetId())
		}
	}
	return ids
}

// broken is one rule that is not met.
type broken struct {
	rule    Rule
	verdict verdict
}

// lifting is one search for ways.
type lifting struct {
	c      *context
	now    pb.Standing
	broken []broken
}

// find gathers the rules that are not met.
func (l *lifting) find() {
	for _, rule := range l.c.book.Rules {
		rule = rule.ready()
		if rule.form.applies(l.c.holds) && !rule.form.met(l.c) {
			b := broken{rule: rule}
			rule.tell(l.c, &words{}, &b.verdict)
			l.broken = append(l.broken, b)
		}
	}
}

// ways are the smallest sets, of indices of broken rules, whose remedies reach the standing, and no better one: that is
// told by itself.
func (l *lifting) ways(target pb.Standing) [][]int {
	var costly []int
	for i, b := range l.broken {
		if b.rule.form.cost > target {
			costly = append(costly, i)
		}
	}
	reached := l.reach(costly)
	if reached != target {
		return nil
	}
	switch {
	case len(costly) > maxBroken:
		return [][]int{costly}
	case len(costly) > maxTried:
		return [][]int{l.takeBack(costly, target)}
	default:
		return l.tryAll(costly, target)
	}
}

// takeBack leaves out remedies without which the standing is reached all the same.
func (l *lifting) takeBack(all []int, target pb.Standing) []int {
	set := all
	for i := len(all) - 1; i >= 0; i-- {
		rest := slices.DeleteFunc(slices.Clone(set), func(b int) bool { return b == all[i] })
		if l.reach(rest) <= target {
			set = rest
		}
	}
	return set
}

// tryAll tries all sets by their size, then in the policy's order, and none that holds one already found.
func (l *lifting) tryAll(all []int, target pb.Standing) [][]int {
	var found [][]int
	for size := 1; size <= len(all); size++ {
		for set := range choices(all, size) {
			holds := func(way []int) bool {
				return !slices.ContainsFunc(way, func(b int) bool { return !slices.Contains(set, b) })
			}
			if !slices.ContainsFunc(found, holds) && l.reach(set) <= target {
				if found = append(found, slices.Clone(set)); len(found) == maxWays {
					return found
				}
			}
		}
	}
	return found
}

// choices yields the subsets of a size in order. The slice is used again.
func choices(all []int, size int) func(func([]int) bool) {
	set := make([]int, 0, size)
	var from func(i int, yield func([]int) bool) bool
	from = func(i int, yield func([]int) bool) bool {
		if len(set) == size {
			return yield(set)
		}
		for ; i <= len(all)-(size-len(set)); i++ {
			set = append(set, all[i])
			more := from(i+1, yield)
			set = set[:len(set)-1]
			if !more {
				return false
			}
		}
		return true
	}
	return func(yield func([]int) bool) { from(0, yield) }
}

// reach is the standing when the remedies of a set of broken rules have been carried out.
func (l *lifting) reach(set []int) pb.Standing { return l.mended(set).standing() }

// mended is what a check sees when the remedies of a set of broken rules have been carried out.
func (l *lifting) mended(set []int) *context {
	c := *l.c
	if c.facts = proto.CloneOf(c.facts); c.facts == nil {
		c.facts = &pb.BikeFacts{}
	}
	c.wait()
	for _, i := range set {
		l.broken[i].rule.mend(&c)
	}
	return &c
}

// wait lets the time of judging pass until the start of the group.
func (c *context) wait() {
	if c.startAt.After(c.at) {
		c.at, c.today = c.startAt.In(c.at.Location()), c.startDay
	}
}

// After is the standing of a bike in one group of a ride when a way to stand better in another, or in the same, has been
// carried out: one of those that Lifts found for the bike there.
func After(book Book, bike Subject, group *pb.GroupPlan, way *pb.LiftWay, in *pb.GroupPlan, at time.Time) pb.Standing {
	l := lifting{c: newContext(&book, &bike, group, at)}
	l.find()
	var set []int
	for i, b := range l.broken {
		if slices.ContainsFunc(way.GetSteps(), func(step *pb.LiftStep) bool { return step.Rule == b.rule.GetId() }) {
			set = append(set, i)
		}
	}
	c, mended := newContext(&book, &bike, in, at), l.mended(set)
	c.facts, c.declaration = mended.facts, mended.declaration
	c.wait()
	return c.standing()
}
