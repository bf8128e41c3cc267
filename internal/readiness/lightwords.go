package readiness

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

// asking writes what the rule asks of this end: "1 rear lamp, steady, on the bike, of 15 lm or more".
func (e *lampEnd) asking() string {
	text := count(e.want, e.lamp)
	if e.steady && e.want == 1 {
		text += ", steady"
	} else if e.steady {
		text += ", one of them steady"
	}
	for i := range e.tests {
		text += ", " + e.tests[i].asks
	}
	return text
}

// declared writes what was declared of one end: "1 rear lamp for 60 min (at 2 °C: 51 min)", and why lamps do not count.
func (e *lampEnd) declared(c *context, lamps []*pb.Light, w *words) {
	if w.lampTimes[e.end] == "" {
		from := w.len()
		e.lasting(c, lamps, w)
		w.lampTimes[e.end] = w.since(from)
	} else {
		w.add(w.lampTimes[e.end])
	}
	if faults := e.faults(c, lamps); len(faults) > 0 {
		w.add("; ")
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
	for _, lamp := range lamps {
		if lamp.GetEnd() != e.end {
			continue
		}
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
