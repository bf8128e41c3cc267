package daylight

import "time"

const (
	// swiftestDegPerHour bounds how fast the sun's altitude can change for a
	// group: 15.05 deg per hour for the Earth's turning and the sun's own
	// motion, and the rest for a group moving at up to 200 km/h.
	swiftestDegPerHour = 17.0
	// shortestStep is the least time between two questions. Near the limit a
	// spell of light or dark shorter than this may be missed; that happens
	// only where the sun culminates within 0.001 deg of it.
	shortestStep = time.Minute
	// exact is how closely a change is pinned down.
	exact = 10 * time.Millisecond
)

// height is the sun above a limit at an instant, in degrees, wherever the
// group then is. Negative is below.
type height func(time.Time) float64

// walk visits every instant in (from, to) at which h changes sign, in order;
// visit gets the first instant of the new state and returns false to stop.
func walk(h height, from, to time.Time, visit func(at time.Time, below bool) bool) {
	v := h(from)
	for t := from; t.Before(to); {
		next := t.Add(stepFor(v))
		if next.After(to) {
			next = to
		}
		w := h(next)
		if (w < 0) != (v < 0) && !visit(change(h, t, next, w < 0), w < 0) {
			return
		}
		t, v = next, w
	}
}

// stepFor is how long the limit is out of reach from v degrees off it.
func stepFor(v float64) time.Duration {
	if v < 0 {
		v = -v
	}
	return max(shortestStep, time.Duration(v/swiftestDegPerHour*float64(time.Hour)))
}

// change bisects for the instant between a and b at which h turns to the side
// it has at b.
func change(h height, a, b time.Time, below bool) time.Time {
	for b.Sub(a) > exact {
		mid := a.Add(b.Sub(a) / 2)
		if (h(mid) < 0) == below {
			b = mid
		} else {
			a = mid
		}
	}
	return b
}

// spells are the stretches of [from, to] in which h is negative.
func spells(h height, from, to time.Time) []Interval {
	var out []Interval
	if h(from) < 0 {
		out = append(out, Interval{from, to})
	}
	walk(h, from, to, func(at time.Time, below bool) bool {
		if below {
			out = append(out, Interval{at, to})
		} else {
			out[len(out)-1].To = at
		}
		return true
	})
	return out
}

// nextBelow is the first instant in (from, to) at which h turns negative.
func nextBelow(h height, from, to time.Time) (time.Time, bool) {
	var found time.Time
	ok := false
	walk(h, from, to, func(at time.Time, below bool) bool {
		if below {
			found, ok = at, true
		}
		return !ok
	})
	return found, ok
}
