package daylight

import (
	"fmt"
	"time"

	"gritward/internal/sun"
)

// Begins says when it is dark.
type Begins int

const (
	// Sunset: dark from sunset to sunrise, the sun's centre below -0.8333 deg.
	// It is the rule for cycle lights in Great Britain (Road Vehicles Lighting
	// Regulations 1989, reg. 24).
	Sunset Begins = iota
	// LightingUp: dark from 30 minutes after sunset until 30 minutes before
	// sunrise, both at the place where the group is.
	LightingUp
	// CivilDusk: dark while the sun's centre is below -6 deg.
	CivilDusk
)

// lightingUp is how long after sunset lighting-up time begins, and how long
// before sunrise it ends.
const lightingUp = 30 * time.Minute

// maxMargin keeps a slip of the pen from lighting up the whole week.
const maxMargin = 12 * time.Hour

// String is the rule's name as a policy writes it.
func (b Begins) String() string {
	switch b {
	case Sunset:
		return "sunset"
	case LightingUp:
		return "lighting-up"
	case CivilDusk:
		return "civil-dusk"
	default:
		return fmt.Sprintf("rule %d", int(b))
	}
}

// Rule is a club's definition of dark.
type Rule struct {
	Begins Begins
	// Margin: lights are needed already this long before dark begins for the
	// group and still this long after it ends; 0 to 12 hours.
	Margin time.Duration
}

// Validate refuses an unknown Begins and a margin out of range.
func (r Rule) Validate() error {
	if r.Begins < Sunset || r.Begins > CivilDusk {
		return fmt.Errorf("daylight: dark begins by an unknown %v: use sunset, lighting-up or civil-dusk", r.Begins)
	}
	if r.Margin < 0 || r.Margin > maxMargin {
		return fmt.Errorf("daylight: margin %v is not between 0 and %v", r.Margin, maxMargin)
	}
	return nil
}

// heightDeg is how far the sun is above the rule's limit at an instant and a
// place: negative is dark.
func (b Begins) heightDeg(t time.Time, p sun.Place) float64 {
	switch b {
	case CivilDusk:
		return sun.AltitudeDeg(t, p) - sun.CivilDeg
	case LightingUp:
		return highestDeg(t, p) - sun.RiseSetDeg
	default:
		return sun.AltitudeDeg(t, p) - sun.RiseSetDeg
	}
}

// highestDeg is the sun's greatest altitude at p from 30 minutes before t to
// 30 minutes after. "Sunset at least half an hour ago and sunrise at least half
// an hour ahead" is to say that the sun has not been up in that hour; taking
// the greatest altitude, not only the two ends, counts a polar day shorter than
// the hour as well. A parabola through three altitudes gives a culmination
// inside the hour to 0.001 deg.
func highestDeg(t time.Time, p sun.Place) float64 {
	before := sun.AltitudeDeg(t.Add(-lightingUp), p)
	now := sun.AltitudeDeg(t, p)
	after := sun.AltitudeDeg(t.Add(lightingUp), p)
	top := max(before, now, after)
	bend, tilt := before-2*now+after, before-after
	if bend < 0 && -tilt < -2*bend && tilt < -2*bend { // the vertex is inside the hour
		top = max(top, now-tilt*tilt/(8*bend))
	}
	return top
}
