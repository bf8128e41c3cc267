package readiness

import (
	"math"

	pb "gritward/proto/gritward/v1"
)

// tellLights looks at lamps. For each end the rule asks for so many lamps at a time, for as long as the group needs
// lights plus the policy's reserve; lamps of one end may be used one after the other. A group that needs no lights asks
// for the lamps, whatever their run-time, and so does a rule that says so. A rule that asks for no number of lamps judges
// those that are carried only by what it says they must be like: how many there are and how long they last is told by
// the rules that ask for it, once.
func tellLights(c *context, rule Rule, w *words) verdict {
	lamps, ends := c.facts.GetLights(), rule.form.lamps
	v := verdict{met: true, needed: rule.form.needed}
	if timed(ends) && c.burning().needMin > 0 {
		from := w.len()
		w.add(rule.form.needed)
		w.add(rule.form.before)
		c.burning().forMinutes(w)
		v.needed = w.since(from)
	}
	from, earlier := w.len(), false
	for i := range ends {
		if i > 0 {
			w.add("; ")
		}
		ends[i].declared(c, lamps, w)
		earlier = ends[i].tell(c, lamps, &v) || earlier
	}
	v.declared = w.since(from)
	if len(lamps) == 0 {
		v.declared = notDeclared
	}
	if earlier && c.group.GetGroup() != "" && !c.nowhere {
		v.todo = append(v.todo, sentence{text: "Or ride in a group that is home earlier.", aside: true, last: true})
	}
	return v
}

// timed tells whether the rule asks how long lamps last.
func timed(ends []lampEnd) bool {
	for i := range ends {
		if ends[i].timed() {
			return true
		}
	}
	return false
}

// tell adds what one end says to the verdict, and tells whether fewer minutes with lights would make it met.
func (e *lampEnd) tell(c *context, lamps []*pb.Light, v *verdict) (earlier bool) {
	if e.want == 0 {
		if a := e.like(c, lamps); a < yes {
			v.met, v.notDeclared, v.failed = false, v.notDeclared || a == unknown, v.failed || a == no
			v.todo = append(v.todo, e.improve(c, lamps, a)...)
		}
		return false
	}
	strict := e.look(c, lamps, false)
	if strict.chains >= e.want {
		return false
	}
	hopeful := e.look(c, lamps, true)
	silent := len(lamps) == 0 || hopeful.chains >= e.want
	v.met, v.notDeclared, v.failed = false, v.notDeclared || silent, v.failed || !silent
	v.todo = append(v.todo, e.todo(c, lamps, strict, hopeful)...)
	untimed := *e
	untimed.anyTime = true
	return e.timed() && untimed.look(c, lamps, false).chains >= e.want
}

// metLights is tellLights without words.
func metLights(f *form) func(*context) bool {
	ends := f.lamps
	return func(c *context) bool {
		lamps := c.facts.GetLights()
		for i := range ends {
			if e := &ends[i]; !e.met(c, lamps) {
				return false
			}
		}
		return true
	}
}

// met is tell without words.
func (e *lampEnd) met(c *context, lamps []*pb.Light) bool {
	if e.want == 0 {
		return e.like(c, lamps) >= yes
	}
	switch e.easy(c, lamps) {
	case yes:
		return true
	case no:
		return false
	default:
		return e.look(c, lamps, false).chains >= e.want
	}
}

// lampEnd is what a rule asks of one end.
type lampEnd struct {
	end     pb.End
	lamp    string // "rear lamp"
	want    int    // 0: no number is asked for, only what lamps are like
	anyTime bool   // they count whatever their run-time
	steady  bool   // one of those wanted at least
	tests   []lampTest
}

// lampEnds are what the rule asks of front and rear, those left out of which nothing is asked.
func lampEnds(need *pb.LightsNeed) []lampEnd {
	var asked []lampEnd
	counted := need.GetFront() > 0 || need.GetRear() > 0
	for _, e := range []lampEnd{
		{end: pb.End_FRONT, want: int(need.GetFront())},
		{end: pb.End_REAR, want: int(need.GetRear())},
	} {
		e.lamp = endWord(e.end) + " lamp"
		e.tests = lampTests(need, e.end)
		e.steady, e.anyTime = need.GetSteady() && counted, need.GetAnyRuntime()
		if counted && e.want == 0 || len(e.tests) == 0 && !counted {
			continue
		}
		asked = append(asked, e)
	}
	return asked
}

// timed tells whether it is asked how long the lamps last.
func (e *lampEnd) timed() bool { return e.want > 0 && !e.anyTime }

// needMin is how long the lamps must last.
func (e *lampEnd) needMin(c *context) float64 {
	if !e.timed() {
		return 0
	}
	return c.burning().needMin
}

// counts tells whether a lamp is such as the rule asks.
func (e *lampEnd) counts(c *context, lamp *pb.Light) answer {
	result := yes
	for i := range e.tests {
		result = worse(result, e.tests[i].look(c, lamp))
	}
	return result
}

// worse is the answer to two questions that must both be met.
func worse(a, b answer) answer {
	switch {
	case a == no || b == no:
		return no
	case a == unknown || b == unknown:
		return unknown
	default:
		return yes
	}
}

// like tells whether the lamps that are carried at this end are as asked: each of them for some tests, one of them for
// all others. Moot where none is carried.
func (e *lampEnd) like(c *context, lamps []*pb.Light) answer {
	if len(lamps) == 0 {
		return unknown
	}
	result, best := moot, no
	for _, lamp := range lamps {
		if lamp.GetEnd() != e.end {
			continue
		}
		each, one := yes, yes
		for i := range e.tests {
			if t := &e.tests[i]; t.each {
				each = worse(each, t.look(c, lamp))
			} else {
				one = worse(one, t.look(c, lamp))
			}
		}
		result = worse(result, each)
		if one == yes || one == unknown && best == no {
			best = one
		}
	}
	if result == moot {
		return moot
	}
	return worse(result, best)
}

// easy answers without a search where that can be: yes where as many lamps as asked for each last long enough alone, no where
// all lamps of the end together last too short for one; else unknown.
func (e *lampEnd) easy(c *context, lamps []*pb.Light) answer {
	burn := c.burning()
	need, left, alone, oneSteady, together := -tolerance, burn.left, 0, !e.steady, 0.0
	if e.timed() {
		need += burn.needMin
	}
	for _, lamp := range lamps[:min(len(lamps), maxLamps)] {
		if lamp == nil || lamp.End != e.end {
			continue
		}
		minutes := lampMinutes(lamp, left, false)
		together += max(minutes, 0)
		if !(minutes >= need) || len(e.tests) > 0 && e.counts(c, lamp) < yes {
			continue
		}
		alone++
		if oneSteady = oneSteady || lamp.Mode == pb.Light_STEADY; oneSteady && alone >= e.want {
			return yes
		}
	}
	if together < need-tolerance && len(lamps) <= maxLamps {
		return no
	}
	return unknown
}

// look finds what the lamps of this end can do. Hopeful takes every fact that was not declared for the best.
func (e *lampEnd) look(c *context, lamps []*pb.Light, hopeful bool) coverage {
	if !hopeful && e.easy(c, lamps) == yes {
		return coverage{chains: e.want}
	}
	left, least := c.burning().left, yes
	if hopeful {
		least = unknown
	}
	var room [maxLamps]source
	sources := room[:0]
	for _, lamp := range lamps {
		if lamp.GetEnd() != e.end || len(sources) == maxLamps {
			continue
		}
		if a := e.counts(c, lamp); a == no || a == unknown && least == yes {
			continue
		}
		sources = append(sources, source{
			minutes: lampMinutes(lamp, left, hopeful),
			steady:  lamp.GetMode() == pb.Light_STEADY || hopeful && lamp.GetMode() == pb.Light_MODE_UNSPECIFIED,
		})
	}
	return lasts(sources, e.want, e.needMin(c), e.steady)
}

// lampMinutes is how long a lamp lasts when a part of its run-time is left. A dynamo lasts for ever. A battery lamp whose
// run-time was not declared lasts no time, or for ever when taken for the best.
func lampMinutes(lamp *pb.Light, left float64, hopeful bool) float64 {
	switch {
	case lamp.Power == pb.Light_DYNAMO:
		return math.Inf(1)
	case lamp.RuntimeMin != nil:
		return *lamp.RuntimeMin * left
	case hopeful:
		return math.Inf(1)
	default:
		return 0
	}
}
