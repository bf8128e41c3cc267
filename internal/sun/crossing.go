package sun

import "time"

const (
	millisecondDays = 0.001 / secondsPerDay
	minuteDays      = 60.0 / secondsPerDay
)

// Crossing is an instant at which the sun's altitude passes a limit.
type Crossing struct {
	At     time.Time
	Rising bool // true when the altitude is growing
}

// Crossings are all the instants in [from, to] at which the sun's altitude at
// p passes altDeg, in order, each solved to the millisecond (of the model) and
// given in from's location. It is empty when the interval is, when the sun
// keeps to one side, and for a [Place] that does not validate.
//
// The interval is cut into pieces in which the altitude only grows or only
// falls, so that no crossing is missed however short the day or night.
func Crossings(from, to time.Time, p Place, altDeg float64) []Crossing {
	if p.Validate() != nil || !from.Before(to) {
		return nil
	}
	var found []Crossing
	for _, c := range newSite(p).crossings(days(from), days(to), altDeg) {
		found = append(found, Crossing{instant(c.d, from.Location()), c.rising})
	}
	return found
}

type crossing struct {
	d      float64
	rising bool
}

func (s site) crossings(from, to, altDeg float64) []crossing {
	above := func(d float64) float64 { return s.altitudeDeg(d) - altDeg }
	var found []crossing
	a, fa := from, above(from)
	for _, b := range append(s.turns(from, to), to) {
		fb := above(b)
		if (fa < 0) != (fb < 0) {
			at := root(above, a, b, fa, fb, millisecondDays)
			found = append(found, crossing{at, fb > fa})
		}
		a, fa = b, fb
	}
	return found
}

// turns are the instants strictly between from and to at which the altitude is
// greatest or least. They lie near the transits, but not at them: the moving
// declination shifts them, near the poles by hours, and at the poles there are
// none for months. Between two instants of hour angle +-90 deg the altitude
// turns at most once.
func (s site) turns(from, to float64) []float64 {
	var found []float64
	a, slopeA := from, s.slope(from)
	for a < to {
		b := min(to, s.nextQuarter(a))
		slopeB := s.slope(b)
		if (slopeA < 0) != (slopeB < 0) {
			if at := root(s.slope, a, b, slopeA, slopeB, minuteDays/60); from < at && at < to {
				found = append(found, at)
			}
		}
		a, slopeA = b, slopeB
	}
	return found
}

// slope has the sign of the altitude's rate: the change over two minutes.
func (s site) slope(d float64) float64 {
	return s.altitudeDeg(d+minuteDays) - s.altitudeDeg(d-minuteDays)
}

// nextQuarter is the first instant after d, to a few seconds, at which the
// hour angle is -90 or +90 deg. It always lies at least a minute ahead.
func (s site) nextQuarter(d float64) float64 {
	h := s.hourAngleDeg(d) + 90
	for h >= 180 {
		h -= 180
	}
	for h < 0 {
		h += 180
	}
	return d + max(minuteDays, (180-h)/360)
}

// transit is the upper (hourDeg 0) or lower (hourDeg 180) transit nearest to d.
func (s site) transit(d, hourDeg float64) float64 {
	for range 3 { // the sun's hourly rate is steady to 0.03 %, so each pass nearly solves it
		h := s.hourAngleDeg(d) - hourDeg
		if h < -180 {
			h += 360
		}
		d -= h / 360
	}
	return d
}
