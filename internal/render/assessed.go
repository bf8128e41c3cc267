package render

import (
	"fmt"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// tally keeps facts in the order of their first telling, each with where it holds.
type tally struct {
	order []string
	where map[string][]string
}

func (y *tally) add(fact, where string) {
	if y.where == nil {
		y.where = map[string][]string{}
	}
	if y.where[fact] == nil {
		y.order = append(y.order, fact)
	}
	if n := len(y.where[fact]); n == 0 || y.where[fact][n-1] != where {
		y.where[fact] = append(y.where[fact], where)
	}
}

// shared tells what several assessments have in common: the rules that did not apply, one a line, and the declaration and
// policy they rest on. What holds for some only names them.
func (t *page) shared(as []*pb.Assessment, titles Titles) {
	var rules, ground tally
	bikes := map[string]bool{}
	for _, a := range as {
		bikes[a.GetBike()] = true
	}
	for _, a := range as {
		where := titles.assessed(a)
		if len(bikes) == 1 && a.GetGroup() != "" {
			where = titles.group(a)
		}
		for _, rule := range a.GetNotApplied() {
			rules.add(rule, where)
		}
		if n := a.GetDeclarationRevision(); n > 0 {
			ground.add(fmt.Sprintf("Declaration %d, policy digest %s", n, phrase.FirstOf(short(a.GetPolicyDigest()), "not known")), titles.bike(a))
		}
	}
	if len(rules.order) > 0 {
		t.gap()
		t.line("Did not apply:")
	}
	for _, rule := range rules.order {
		words := rule
		if in := rules.where[rule]; len(in) < len(as) {
			words += " (" + strings.Join(in, ", ") + ")"
		}
		t.wrapped("  - ", "    ", words, plain)
	}
	if len(ground.order) > 0 {
		t.gap()
	}
	for _, fact := range ground.order {
		words := fact
		if len(ground.order) > 1 {
			words += " (" + strings.Join(ground.where[fact], ", ") + ")"
		}
		t.line(words)
	}
}
