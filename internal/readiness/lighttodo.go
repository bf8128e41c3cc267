package readiness

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

// todo says how to meet what is asked of this end, which strict does not and hopeful, with all that was not declared
// taken for the best, perhaps does.
func (e *lampEnd) todo(c *context, lamps []*pb.Light, strict, hopeful coverage) []sentence {
	burn, need := c.burning(), e.needMin(c)
	if !e.carries(lamps) {
		return do("Carry " + count(e.want, e.lamp) + e.such(e.want, need, burn) + e.full(need) + ".")
	}
	if hopeful.chains >= e.want {
		return declares(e.undeclared(c, lamps))
	}
	if simple := e.change(c, lamps); simple != "" {
		return do(simple)
	}
	missing := e.want - strict.chains
	if missing > 1 || need == 0 || strict.partial == 0 {
		return do("Carry " + count(missing, "more "+e.lamp) + e.such(missing, need, burn) + ".")
	}
	short := need - strict.partial
	return append(
		[]sentence{{text: "The light at the " + endWord(e.end) + " is " + atLeastMin(short) + " short.", aside: true, short: true}},
		do(e.longerMode(lamps, need, burn)+", or carry another "+e.lamp+e.such(1, short, burn)+": lamps used one after the other add up.")...)
}

// longerMode says how long lamps would have to last in another mode; empty batteries aside, that needs no other lamp.
func (e *lampEnd) longerMode(lamps []*pb.Light, need float64, burn *burn) string {
	n := 0
	for _, lamp := range lamps {
		if lamp.GetEnd() == e.end {
			n++
		}
	}
	switch {
	case n == 1:
		return "Use a mode that lasts at least " + burn.atRoom(need)
	case e.want == 1:
		return "Use modes that together last at least " + burn.atRoom(need)
	default: // which lamps follow which is the member's choice
		return "Use modes that last longer, until the lamps that shine at one time each have " + burn.atRoom(need)
	}
}

// improve says how lamps of which no number is asked become as asked.
func (e *lampEnd) improve(c *context, lamps []*pb.Light, a answer) []sentence {
	switch {
	case len(lamps) == 0:
		return declares([]string{"your lamps"})
	case a == unknown:
		return declares(e.undeclared(c, lamps))
	}
	var todo []sentence
	for i := range e.tests {
		t := &e.tests[i]
		broken := func(l *pb.Light) bool { return l.GetEnd() == e.end && t.look(c, l) == no }
		switch {
		case !slices.ContainsFunc(lamps, broken):
		case t.change != "":
			todo = append(todo, sentence{text: t.change})
		default:
			alone := lampEnd{tests: []lampTest{*t}}
			todo = append(todo, sentence{text: "Carry a " + e.lamp + alone.such(1, 0, nil) + "."})
		}
	}
	return todo
}

func do(text string) []sentence { return []sentence{{text: text}} }

// declares are facts to declare.
func declares(facts []string) []sentence {
	var all []sentence
	for _, fact := range facts {
		all = append(all, sentence{declare: fact})
	}
	return all
}

// change says how the lamps carried would do if they were used otherwise; empty where that is not enough.
func (e *lampEnd) change(c *context, lamps []*pb.Light) string {
	for i := range e.tests {
		if e.tests[i].change == "" {
			continue
		}
		other := *e
		other.tests = append(append([]lampTest(nil), e.tests[:i]...), e.tests[i+1:]...)
		if other.look(c, lamps, false).chains >= e.want {
			return e.tests[i].change
		}
	}
	anyhow := *e
	anyhow.steady = false
	if e.steady && anyhow.look(c, lamps, false).chains >= e.want {
		return setSteady(e.lamp)
	}
	return ""
}

// carries tells whether any lamp of this end was declared.
func (e *lampEnd) carries(lamps []*pb.Light) bool {
	return slices.ContainsFunc(lamps, func(l *pb.Light) bool { return l.GetEnd() == e.end })
}

// such writes what lamps to carry must be like and how long they must last; it follows them: " of 400 lm or more that is
// steady and lasts at least 175 min".
func (e *lampEnd) such(lamps int, min float64, burn *burn) string {
	is, lasts, text := "is ", "lasts at least ", ""
	if lamps > 1 {
		is, lasts = "are ", "each last at least "
	}
	var that []string
	add := func(words string) {
		if !slices.Contains(that, words) {
			that = append(that, words)
		}
	}
	if e.steady {
		add(is + "steady")
	}
	for i := range e.tests {
		if t := &e.tests[i]; t.with != "" {
			text += " " + t.with
		} else {
			add(is + t.like)
		}
	}
	if min > 0 {
		add(lasts + burn.atRoom(min))
	}
	if len(that) > 0 {
		text += " that " + andList(that)
	}
	return text
}

// full asks for a full battery, where lamps must last and nothing else says so.
func (e *lampEnd) full(min float64) string {
	if min == 0 || slices.ContainsFunc(e.tests, func(t lampTest) bool { return t.battery }) {
		return ""
	}
	return ", fully charged"
}

// undeclared names the facts about lamps of this end that were not declared and that the rule needs.
func (e *lampEnd) undeclared(c *context, lamps []*pb.Light) []string {
	var facts []string
	add := func(missing func(*pb.Light) bool, words string) {
		if slices.ContainsFunc(lamps, func(l *pb.Light) bool { return l.GetEnd() == e.end && missing(l) }) {
			facts = append(facts, words)
		}
	}
	add(func(l *pb.Light) bool {
		return e.needMin(c) > 0 && l.GetPower() != pb.Light_DYNAMO && l.RuntimeMin == nil
	}, "how long the "+e.lamp+" lasts in the mode used")
	for i := range e.tests {
		test := &e.tests[i]
		add(func(l *pb.Light) bool { return test.look(c, l) == unknown }, test.declare)
	}
	add(func(l *pb.Light) bool { return e.steady && l.GetMode() == pb.Light_MODE_UNSPECIFIED },
		"whether the "+e.lamp+" is steady or flashing")
	return facts
}
