package readiness

import (
	"slices"
	"strings"
)

// answer is what the facts say to one question.
type answer int8

const (
	unknown answer = iota // not declared
	no
	yes
	moot // not asked of such a bike: met, and nothing is said
)

func answerOf(declared, good bool) answer {
	switch {
	case !declared:
		return unknown
	case good:
		return yes
	default:
		return no
	}
}

// limit is one thing that a rule asks of one part of a bike.
type limit struct {
	// needed says it for a person: "pads at least 0.5 mm".
	needed string
	// look gives the answer of the facts.
	look func(*context) answer
	// good is what declared writes where the answer is yes and nothing comes from the care log, if that is always the
	// same; empty where it is not. It saves asking again.
	good string
	// declared writes what the facts say; not called where moot; nil where the section's head says it.
	declared func(*context, *words)
	// todo is one sentence that says how to meet it, where the answer is no.
	todo func(*context) string
	// declare names what to declare, where the answer is unknown: "whether there is a flap". declareNow does so where it
	// depends on the bike.
	declare    string
	declareNow func(*context) string
	// mend changes the facts of the context, which are its own, as if the work were done.
	mend func(*context)
}

// section is what a rule asks of one part of a bike, such as one end.
type section struct {
	// name goes before its words; empty: nothing does.
	name   string
	limits []limit
	// only is said in place of what the limits declare; nil or empty: they are told.
	only func(*context) string
	// head is said before what the limits declare; nil or empty: nothing is.
	head func(*context) string
	// fit is one sentence in place of what the limits would have done; nil or empty: theirs.
	fit func(*context) string
}

// looks are the questions of all sections, side by side for judging many bikes.
func looks(sections []section) []func(*context) answer {
	var all []func(*context) answer
	for _, s := range sections {
		for _, l := range s.limits {
			all = append(all, l.look)
		}
	}
	return all
}

// tell judges all sections, with words.
func tell(c *context, sections []section, w *words, v *verdict) {
	v.met = true
	heard, from := false, w.len()
	for i := range sections {
		if i > 0 {
			w.add("; ")
		}
		heard = sections[i].tell(c, w, v) || heard
	}
	v.declared = w.since(from)
	if !heard && !v.met {
		v.declared = notDeclared
	}
}

// tell judges one section, and says whether anything about it was declared.
func (s *section) tell(c *context, w *words, v *verdict) bool {
	if s.name != "" {
		w.add(s.name)
		w.add(": ")
	}
	said, from, heard := s.opening(c, w), w.len(), false
	var todo, declare []string
	for i := range s.limits {
		l := &s.limits[i]
		a := l.look(c)
		heard = heard || a == yes || a == no
		if a < yes {
			v.met = false
			if a == no {
				todo = append(todo, l.todo(c))
			} else {
				v.notDeclared = true
				declare = l.addDeclare(c, declare)
			}
		}
		if a == moot || said == all || l.declared == nil {
			continue
		}
		if w.len() > from || said == some {
			w.add(", ")
		}
		if a == yes && l.good != "" && c.log == 0 {
			w.add(l.good)
		} else {
			l.declared(c, w)
		}
	}
	if said == nothing && w.len() == from {
		w.add("not asked")
	}
	if len(todo)+len(declare) > 0 {
		v.todo = append(v.todo, s.advice(c, todo, declare)...)
	}
	return heard
}

// addDeclare adds what to declare, if it is not there already.
func (l *limit) addDeclare(c *context, to []string) []string {
	text := l.declare
	if l.declareNow != nil {
		text = l.declareNow(c)
	}
	if slices.Contains(to, text) {
		return to
	}
	return append(to, text)
}

// What an opening has said of a section: nothing, something that the limits go on from, or all there is.
const (
	nothing = iota
	some
	all
)

func (s *section) opening(c *context, w *words) int {
	if s.only != nil {
		if text := s.only(c); text != "" {
			w.add(text)
			return all
		}
	}
	if s.head != nil {
		if text := s.head(c); text != "" {
			w.add(text)
			return some
		}
	}
	return nothing
}

func (s *section) advice(c *context, todo, declare []string) []sentence {
	if s.fit != nil {
		if text := s.fit(c); text != "" {
			return []sentence{{text: text}}
		}
	}
	var result []sentence
	for _, text := range todo {
		result = append(result, sentence{text: text})
	}
	if len(declare) > 0 {
		result = append(result, sentence{text: "Declare " + andList(declare) + "."})
	}
	return result
}

// mend changes the facts of the context so that all sections are met. Work on one limit may raise a question of
// another, as a guard that is fitted has a gap, so it goes round more than once.
func mend(c *context, sections []section) {
	for range 3 {
		for _, s := range sections {
			for _, l := range s.limits {
				if l.look(c) < yes {
					l.mend(c)
				}
			}
		}
	}
}

// asks writes what sections need: "front: full guard; rear: full guard, flap", or for equal ones "front and rear: ...".
func asks(sections []section) string {
	var texts, names []string
	same := true
	for _, s := range sections {
		var needs []string
		for _, l := range s.limits {
			if l.needed != "" {
				needs = append(needs, l.needed)
			}
		}
		names, texts = append(names, s.name), append(texts, strings.Join(needs, ", "))
		same = same && texts[0] == texts[len(texts)-1]
	}
	if same && len(texts) > 1 {
		return andList(names) + ": " + texts[0]
	}
	for i, name := range names {
		if name != "" {
			texts[i] = name + ": " + texts[i]
		}
	}
	return strings.Join(texts, "; ")
}
