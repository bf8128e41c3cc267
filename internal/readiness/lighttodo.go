package readiness

import (
	"fmt"

	pb "gritward/proto/gritward/v1"
)

// todo says how to meet what is asked of this end, which strict does not and hopeful, with all that was not declared
// taken for the best, perhaps does.
func (e *lampEnd) todo(c *context, lamps []*pb.Light, strict, hopeful coverage) []sentence {
	burn := c.burning()
	if !e.carries(lamps) {
		return work("Carry " + count(e.want, e.lamp) + e.quality() + e.forAtLeast(e.want, burn.needMin, burn) + ", charged.")
	}
	if hopeful.chains >= e.want {
		return work("Declare " + andList(e.undeclared(c, lamps)) + ".")
	}
	if simple := e.change(c, lamps); simple != "" {
		return work(simple)
	}
	missing := e.want - strict.chains
	if missing > 1 || burn.needMin == 0 || strict.partial == 0 {
		return work("Carry " + count(missing, "more "+e.lamp) + e.quality() + e.forAtLeast(missing, burn.needMin, burn) + ".")
	}
	short := burn.needMin - strict.partial
	return append(
		[]sentence{{text: fmt.Sprintf("The light at the %s is %s short.", endWord(e.end), atLeastMin(short)), aside: true}},
		work(fmt.Sprintf("Charge the lamp fully and use a mode that lasts longer, or carry another %s%s%s.",
			e.lamp, e.quality(), e.forAtLeast(1, short, burn)))...)
}

func work(text string) []sentence { return []sentence{{text: text}} }

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
		return "Set a " + e.lamp + " to steady, and declare how long it lasts so."
	}
	return ""
}

// carries tells whether any lamp of this end was declared.
func (e *lampEnd) carries(lamps []*pb.Light) bool {
	for _, lamp := range lamps {
		if lamp.GetEnd() == e.end {
			return true
		}
	}
	return false
}

// quality writes what a lamp must be like to count; it follows the lamp.
func (e *lampEnd) quality() string {
	text, steady := "", e.steady
	if steady {
		text = ", steady"
	}
	for i := range e.tests {
		if like := e.tests[i].like; like != "steady" || !steady {
			text += ", " + like
			steady = steady || like == "steady"
		}
	}
	return text
}

// forAtLeast writes how long lamps to carry must last; it follows the lamps.
func (e *lampEnd) forAtLeast(lamps int, min float64, burn *burn) string {
	switch {
	case min == 0:
		return ""
	case lamps == 1:
		return ", that lasts at least " + burn.atRoom(min)
	default:
		return ", each of which lasts at least " + burn.atRoom(min)
	}
}

// undeclared names the facts about lamps of this end that were not declared and that the rule needs.
func (e *lampEnd) undeclared(c *context, lamps []*pb.Light) []string {
	var facts []string
	add := func(missing func(*pb.Light) bool, words string) {
		for _, lamp := range lamps {
			if lamp.GetEnd() == e.end && missing(lamp) {
				facts = append(facts, words)
				return
			}
		}
	}
	add(func(l *pb.Light) bool {
		return c.burning().needMin > 0 && l.GetPower() != pb.Light_DYNAMO && l.RuntimeMin == nil
	}, "how long the "+e.lamp+" lasts in the mode used")
	for i := range e.tests {
		test := &e.tests[i]
		add(func(l *pb.Light) bool { return test.look(c, l) == unknown }, test.declare)
	}
	add(func(l *pb.Light) bool { return e.steady && l.GetMode() == pb.Light_MODE_UNSPECIFIED },
		"whether the "+e.lamp+" is steady or flashing")
	return facts
}
