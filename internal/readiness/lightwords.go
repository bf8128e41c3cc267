package readiness

import (
	"slices"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// lampsNeeded writes what a rule asks of lamps, and what stands between that and how long they must last: "1 front lamp
// and 1 rear lamp, steady" and ",".
func lampsNeeded(ends []lampEnd) (text, before string) {
	var lamps, likes []string
	same := true
	for i := range ends {
		e := &ends[i]
		lamps, likes = append(lamps, e.number()), append(likes, e.quality())
		same = same && likes[i] == likes[0]
	}
	switch {
	case len(ends) == 0:
		return "", ""
	case ends[0].want == 0 && same && len(ends) > 1:
		return "front and rear: " + likes[0], ""
	case ends[0].want == 0:
		for i := range likes {
			likes[i] = endWord(ends[i].end) + ": " + likes[i]
		}
		return strings.Join(likes, "; "), ""
	case same && likes[0] == "":
		return andList(lamps), ""
	case same:
		return andList(lamps) + ", " + likes[0], ","
	}
	for i, like := range likes {
		if like != "" {
			lamps[i] += ", " + like
		}
	}
	return strings.Join(lamps, "; "), ";"
}

func (e *lampEnd) number() string {
	if e.want == 0 {
		return ""
	}
	return count(e.want, e.lamp)
}

// quality writes what lamps of this end must be like: "steady, on the bike", or of those of which no number is asked,
// "each lamp charged at most 14 days before the start".
func (e *lampEnd) quality() string {
	var each, one []string
	switch {
	case e.steady && e.want == 1:
		one = append(one, "steady")
	case e.steady:
		one = append(one, "one of them steady")
	}
	for i := range e.tests {
		t := &e.tests[i]
		if to := choose(t.each && e.want == 0, &each, &one); !slices.Contains(*to, t.asks) {
			*to = append(*to, t.asks)
		}
	}
	text := strings.Join(one, ", ")
	if e.want == 0 && len(one) > 0 {
		text = "a lamp " + text
	}
	if len(each) > 0 {
		text = strings.Join(append(slices.DeleteFunc([]string{text}, func(s string) bool { return s == "" }), "each lamp "+strings.Join(each, ", ")), "; ")
	}
	return text
}

// declared writes what was declared of one end: "1 rear lamp for 60 min (at 2 °C: 51 min)", and why lamps do not count.
func (e *lampEnd) declared(c *context, lamps []*pb.Light, w *words) {
	switch {
	case !e.timed():
		n := 0
		for _, lamp := range lamps {
			if lamp.GetEnd() == e.end {
				n++
			}
		}
		w.count(n, e.lamp)
		if n > 0 && e.want == 0 && e.like(c, lamps) == yes {
			w.add(", as needed")
			return
		}
	case w.lampTimes[e.end] == "":
		from := w.len()
		e.lasting(c, lamps, w)
		w.lampTimes[e.end] = w.since(from)
	default:
		w.add(w.lampTimes[e.end])
	}
	if faults := e.faults(c, lamps); len(faults) > 0 {
		w.add(", but ")
		w.add(andList(faults))
	}
}

// lasting writes how many lamps of this end there are, and how long each lasts. It is the same for every rule.
func (e *lampEnd) lasting(c *context, lamps []*pb.Light, w *words) {
	burn, n, battery := c.burning(), 0, false
	for _, lamp := range lamps {
		if lamp.GetEnd() == e.end {
			n++
			battery = battery || lamp.GetPower() != pb.Light_DYNAMO && lamp.RuntimeMin != nil
		}
	}
	w.count(n, e.lamp)
	if n > 0 {
		w.add(" ")
		e.times(lamps, n, 1, "for ", w)
	}
	switch {
	case !battery || burn.needMin == 0:
	case burn.temperatureC == nil:
		w.add(" (temperature not known: no loss in the cold reckoned)")
	case burn.left != 1:
		w.add(" (at ")
		w.add(degrees(*burn.temperatureC))
		w.add(": ")
		e.times(lamps, n, burn.left, "", w)
		w.add(")")
	}
	if c.log.has(fromCharged.at(e.end)) {
		w.add(", last charged by the care log")
	}
}

// times writes how long each of n lamps of this end lasts when a part of its run-time is left.
func (e *lampEnd) times(lamps []*pb.Light, n int, left float64, before string, w *words) {
	said := 0
	for _, lamp := range lamps {
		if lamp.GetEnd() != e.end {
			continue
		}
		switch said++; {
		case said == 1:
		case said == n:
			w.add(" and ")
		default:
			w.add(", ")
		}
		switch {
		case lamp.GetPower() == pb.Light_DYNAMO:
			w.add("on a dynamo")
		case lamp.RuntimeMin != nil:
			w.add(before)
			w.atMostMin(lamp.GetRuntimeMin() * left)
		default:
			w.add("with run-time " + notDeclared)
		}
	}
}

// faults writes why lamps of this end do not count, or not for all that is asked; a fault of neighbours once.
func (e *lampEnd) faults(c *context, lamps []*pb.Light) []string {
	var faults []string
	n := 0
	for _, lamp := range lamps {
		if lamp.GetEnd() != e.end {
			continue
		}
		n++
		for i := range e.tests {
			switch t := &e.tests[i]; t.look(c, lamp) {
			case unknown:
				faults = append(faults, t.silent)
			case no:
				faults = append(faults, t.fault(lamp))
			}
		}
		if e.steady {
			switch lamp.GetMode() {
			case pb.Light_MODE_UNSPECIFIED:
				faults = append(faults, "steady or flashing "+notDeclared)
			case pb.Light_FLASHING:
				faults = append(faults, "one flashing")
			}
		}
	}
	if n == 1 { // "1 rear lamp, but flashing": the one that there is
		for i := range faults {
			faults[i] = strings.TrimPrefix(faults[i], "one ")
		}
	}
	return slices.Compact(faults)
}

// count writes "1 rear lamp", "2 rear lamps", "no rear lamp".
func (w *words) count(n int, what string) {
	if n == 0 {
		w.add("no ")
	} else {
		w.whole(n)
		w.add(" ")
	}
	w.add(what)
	if n > 1 {
		w.add("s")
	}
}
