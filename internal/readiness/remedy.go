package readiness

import (
	"slices"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// asked is what one rule that is not met asks for.
type asked struct {
	rule string
	cost pb.Standing
	todo []sentence
}

// settle leaves out of several remedies for one bike what is done with another: of a chain that is renewed nobody cleans
// the old one. A remedy all of which is done with others' says with which rules'. Work that a better standing waits for
// is not left to work that may wait longer.
func settle(all []asked) {
	var does job
	for i := range all {
		for _, s := range all[i].todo {
			if s.declare == "" {
				does |= s.does
			}
		}
	}
	if does == 0 {
		return
	}
	settled := make([][]sentence, len(all))
	for i := range all {
		settled[i] = settleOne(all, i, does)
	}
	for i := range all {
		all[i].todo = settled[i]
	}
}

func settleOne(all []asked, i int, does job) []sentence {
	var left []sentence
	var rules []string
	worked := false
	for n, s := range all[i].todo {
		if (s.under|s.does)&does != 0 {
			if by, done := doneWith(all, i, n); done {
				if by != i && !slices.Contains(rules, all[by].rule) {
					rules = append(rules, all[by].rule)
				}
				continue
			}
		}
		if s.with&does != 0 {
			s.text = s.alt
		}
		left, worked = append(left, s), worked || !s.aside
	}
	if len(rules) == 0 {
		return left
	}
	what := "It comes right with the work for rule "
	if worked {
		what = "The rest comes right with the work for rule "
	}
	return append(left, sentence{text: what + andList(rules) + ".", aside: true, last: true})
}

// doneWith finds the rule whose work makes a sentence needless.
func doneWith(all []asked, i, n int) (by int, done bool) {
	s := all[i].todo[n]
	for j := range all {
		if j != i && all[j].cost < all[i].cost {
			continue
		}
		for m, other := range all[j].todo {
			same := s.does&other.does != 0 && (all[j].cost > all[i].cost || j < i || j == i && m < n || s.declare != "")
			if other.declare == "" && (j != i || m != n) && (s.under&other.does != 0 || same) {
				return j, true
			}
		}
	}
	return 0, false
}

// declaring asks for facts: "Declare a; b and c; d." where one of them has a comma or an "and" of its own.
func declaring(facts []string) string {
	plain := true
	for _, fact := range facts {
		plain = plain && !strings.Contains(fact, ",") && !strings.Contains(fact, " and ")
	}
	if plain {
		return "Declare " + andList(facts) + "."
	}
	return "Declare " + strings.Join(facts, "; ") + "."
}

// remedy joins sentences: first the work, then what to declare, then other ways out.
func remedy(todo []sentence) string {
	var texts, facts, last []string
	for _, s := range todo {
		switch {
		case s.declare != "":
			if !slices.Contains(facts, s.declare) {
				facts = append(facts, s.declare)
			}
		case s.last:
			last = append(last, s.text)
		case !slices.Contains(texts, s.text):
			texts = append(texts, s.text)
		}
	}
	if len(facts) > 0 {
		texts = append(texts, declaring(facts))
	}
	return strings.Join(append(texts, last...), " ")
}
