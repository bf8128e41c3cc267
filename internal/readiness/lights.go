package readiness

import (
	"math"

	pb "gritward/proto/gritward/v1"
)

// tellLights looks at lamps. For each end the rule asks for so many lamps at a time, for as long as the group needs
// lights plus the policy's reserve; lamps of one end may be used one after the other. A group that needs no lights asks
// for the lamps, whatever their run-time.
func tellLights(c *context, rule Rule, w *words) verdict {
	burn, lamps, ends := c.burning(), c.facts.GetLights(), rule.form.lamps
	v := verdict{met: true}
	from := w.len()
	for i := range ends {
		if i > 0 {
			w.add(" and ")
		}
		w.add(ends[i].asks)
	}
	burn.forMinutes(w)
	v.needed = w.since(from)
	from = w.len()
	for i := range ends {
		if i > 0 {
			w.add("; ")
		}
		ends[i].declared(c, lamps, w)
		ends[i].tell(c, lamps, &v)
	}
	v.declared = w.since(from)
	if len(lamps) == 0 {
		v.declared = notDeclared
	}
	if !v.met && burn.needMin > 0 && len(lamps) > 0 {
		v.todo = append(v.todo, sentence{text: "Or ride in a group that is home earlier.", aside: true})
	}
	return v
}

// tell adds what one end says to the verdict.
func (e *lampEnd) tell(c *context, lamps []*pb.Light, v *verdict) {
	strict := e.look(c, lamps, false)
	if strict.chains >= e.want {
		return
	}
	hopeful := e.look(c, lamps, true)
	v.met = false
	v.notDeclared = v.notDeclared || len(lamps) == 0 || hopeful.chains >= e.want
	v.todo = append(v.todo, e.todo(c, lamps, strict, hopeful)...)
}

// metLights is tellLights without words.
func metLights(c *context, rule Rule) bool {
	for i := range rule.form.lamps {
		e := &rule.form.lamps[i]
		if e.look(c, c.facts.GetLights(), false).chains < e.want {
			return false
		}
	}
	return true
}

// lampEnd is what a rule asks of one end.
type lampEnd struct {
	end    pb.End
	lamp   string // "rear lamp"
	want   int
	steady bool       // one of them at least
	tests  []lampTest // what each must be like to count
	asks   string     // in words: "1 rear lamp, steady"
}

// lampEnds are what the rule asks of front and rear, those left out of which nothing is asked.
func lampEnds(need *pb.LightsNeed) []lampEnd {
	var asked []lampEnd
	for _, e := range []lampEnd{
		{end: pb.End_FRONT, want: int(need.GetFront())},
		{end: pb.End_REAR, want: int(need.GetRear())},
	} {
		if e.want == 0 {
			continue
		}
		e.lamp = endWord(e.end) + " lamp"
		e.steady = need.GetSteady()
		e.tests = lampTests(need, e.end)
		e.asks = e.asking()
		asked = append(asked, e)
	}
	return asked
}

// counts tells whether a lamp is such as the rule asks.
func (e *lampEnd) counts(c *context, lamp *pb.Light) answer {
	result := yes
	for i := range e.tests {
		switch e.tests[i].look(c, lamp) {
		case no:
			return no
		case unknown:
			result = unknown
		}
	}
	return result
}

// easy tells whether lamps that each last long enough alone are as many as asked for: the usual case, which needs no
// search.
func (e *lampEnd) easy(c *context, lamps []*pb.Light) bool {
	burn, alone, oneSteady := c.burning(), 0, !e.steady
	for _, lamp := range lamps[:min(len(lamps), maxLamps)] {
		if lamp.GetEnd() == e.end && lampMinutes(lamp, burn, false) >= burn.needMin-tolerance && e.counts(c, lamp) == yes {
			alone++
			oneSteady = oneSteady || lamp.GetMode() == pb.Light_STEADY
		}
	}
	return alone >= e.want && oneSteady
}

// look finds what the lamps of this end can do. Hopeful takes every fact that was not declared for the best.
func (e *lampEnd) look(c *context, lamps []*pb.Light, hopeful bool) coverage {
	if !hopeful && e.easy(c, lamps) {
		return coverage{chains: e.want}
	}
	burn, least := c.burning(), yes
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
			minutes: lampMinutes(lamp, burn, hopeful),
			steady:  lamp.GetMode() == pb.Light_STEADY || hopeful && lamp.GetMode() == pb.Light_MODE_UNSPECIFIED,
		})
	}
	return lasts(sources, e.want, burn.needMin, e.steady)
}

// lampMinutes is how long a lamp lasts in the cold of the ride. A dynamo lasts for ever. A battery lamp whose run-time
// was not declared lasts no time, or for ever when taken for the best.
func lampMinutes(lamp *pb.Light, burn *burn, hopeful bool) float64 {
	switch {
	case lamp.GetPower() == pb.Light_DYNAMO:
		return math.Inf(1)
	case lamp.RuntimeMin != nil:
		return lamp.GetRuntimeMin() * burn.left
	case hopeful:
		return math.Inf(1)
	default:
		return 0
	}
}
