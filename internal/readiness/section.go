package readiness

import "strings"

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
	next string // good with a comma before it; join fills it in
	// declared writes what the facts say; not called where moot; nil where the section's head says it.
	declared func(*context, *words)
	// todo is one sentence that says how to meet it, where the answer is no.
	todo func(*context) string
	// work is how that goes with other work on the bike; doesNow is what it does where that depends on the bike.
	work
	doesNow func(*context) job
	// declare names what to declare, where the answer is unknown: "whether there is a flap". declareNow does so where it
	// depends on the bike.
	declare    string
	declareNow func(*context) string
	// mend changes the facts of the context, which are its own, as if the work were done.
	mend func(*context)
	// kinds are the kinds of brake that it is asked of, a bit each; none: of all. See brakeEnd.section.
	kinds uint8
}

// section is what a rule asks of one part of a bike, such as one end.
type section struct {
	// name goes before its words; empty: nothing does.
	name   string
	prefix string // "; front: ", as it goes before its words; join fills it in
	limits []limit
	// head is said before what the limits declare, or with alone in place of it; nil or empty: nothing is.
	head func(*context) (text string, alone bool)
	// fit is one sentence in place of what the limits would have done, and fits its work; nil or empty: theirs.
	fit  func(*context) string
	fits job
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
		heard = sections[i].tell(c, w, v) || heard
	}
	v.declared = w.since(from)
	if !heard && !v.met {
		v.declared = notDeclared
	}
}

// tell judges one section, and says whether anything about it was declared.
func (s *section) tell(c *context, w *words, v *verdict) bool {
	w.add(s.prefix)
	said, from, heard := s.opening(c, w), w.len(), false
	todo := len(v.todo)
	for i := range s.limits {
		l := &s.limits[i]
		a := l.look(c)
		heard = heard || a == yes || a == no
		if a < yes {
			v.met, v.notDeclared, v.failed = false, v.notDeclared || a == unknown, v.failed || a == no
			v.todo = append(v.todo, l.sentence(c, a))
		}
		if a == moot || said == all || l.declared == nil {
			continue
		}
		follows, fixed := w.len() > from || said == some, a == yes && l.good != "" && c.log == 0
		switch {
		case fixed && follows:
			w.add(l.next)
			continue
		case fixed:
			w.add(l.good)
			continue
		case follows:
			w.add(", ")
		}
		l.declared(c, w)
	}
	if said == nothing && w.len() == from {
		w.add("not asked")
	}
	if len(v.todo) > todo && s.fit != nil {
		if text := s.fit(c); text != "" {
			v.todo = append(v.todo[:todo], sentence{text: text, work: work{does: s.fits}})
		}
	}
	return heard
}

// sentence says what to do, or what to declare, so that the limit is met.
func (l *limit) sentence(c *context, a answer) sentence {
	s := sentence{work: l.work}
	switch {
	case a == no:
		if s.text = l.todo(c); l.doesNow != nil {
			s.does = l.doesNow(c)
		}
	case l.declareNow != nil:
		s.declare = l.declareNow(c)
	default:
		s.declare = l.declare
	}
	return s
}

// What an opening has said of a section: nothing, something that the limits go on from, or all there is.
const (
	nothing = iota
	some
	all
)

func (s *section) opening(c *context, w *words) int {
	if s.head == nil {
		return nothing
	}
	text, alone := s.head(c)
	w.add(text)
	switch {
	case alone:
		return all
	case text != "":
		return some
	default:
		return nothing
	}
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

// join fills in how the words of sections follow each other.
func join(sections []section) {
	for i := range sections {
		s := &sections[i]
		if s.name != "" {
			s.prefix = s.name + ": "
		}
		if i > 0 {
			s.prefix = "; " + s.prefix
		}
		for j := range s.limits {
			s.limits[j].next = ", " + s.limits[j].good
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
	for i, s := range sections {
		texts[i] = s.prefix + texts[i]
	}
	return strings.Join(texts, "")
}
