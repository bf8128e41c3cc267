package readiness

import (
	"slices"
	"time"

	pb "gritward/proto/gritward/v1"
)

// context is what a check sees.
type context struct {
	book        Book
	declaration *pb.Declaration
	facts       *pb.BikeFacts // nil where nothing was declared
	group       *pb.GroupPlan // never nil
	startAt     time.Time
	at          time.Time
}

func newContext(book Book, bike Subject, group *pb.GroupPlan, at time.Time) *context {
	if group == nil {
		group = &pb.GroupPlan{}
	}
	c := &context{
		book: book, declaration: bike.Declaration, facts: bike.Declaration.GetFacts(), group: group,
		startAt: at, at: at,
	}
	if group.GetStartAt().IsValid() {
		c.startAt = group.GetStartAt().AsTime()
	}
	return c
}

// applies tells whether any circumstance of "when" holds for the group and none of "unless" does.
func applies(rule *pb.Rule, group *pb.GroupPlan) bool {
	holds := func(c pb.Circumstance) bool {
		return c == pb.Circumstance_ALWAYS || slices.Contains(group.GetCircumstances(), c)
	}
	return slices.ContainsFunc(rule.GetWhen(), holds) && !slices.ContainsFunc(rule.GetUnless(), holds)
}

// notApplied names a rule that does not apply, and when it would: "rear-light: when dark or poor-visibility".
func notApplied(rule *pb.Rule) string {
	text := rule.GetId() + ": when " + orList(circumstances(rule.GetWhen()))
	if len(rule.GetUnless()) > 0 {
		text += ", unless " + orList(circumstances(rule.GetUnless()))
	}
	return text
}

func circumstances(list []pb.Circumstance) []string {
	var words []string
	for _, c := range list {
		words = append(words, word(c))
	}
	return words
}
