package weather

import (
	"math"
	"strconv"
	"strings"
)

// Limits are a club's call-off limits. NaN, and None for ice, mean no limit;
// [NoLimits] has none at all. Beware that the zero value does limit.
type Limits struct {
	FeelsLikeBelowC  float64 // degC: breached when it feels colder
	GustAboveKmh     float64 // km/h: breached when it blows harder
	VisibilityBelowM float64 // metres: breached when one sees less far
	Ice              IceRisk // breached at this risk or a greater one
}

// NoLimits is a set of limits that nothing breaches.
func NoLimits() Limits {
	return Limits{FeelsLikeBelowC: math.NaN(), GustAboveKmh: math.NaN(), VisibilityBelowM: math.NaN()}
}

// Breach is one limit that the conditions pass, in words.
type Breach struct {
	What  string // "Feels like", "Gusts", "Visibility" or "Ice"
	Limit string // "below -8 °C"
	Found string // "feels like -11.2 °C: air -3 °C, wind 40 km/h"
}

// String is the whole as one sentence.
func (b Breach) String() string {
	return strings.ToUpper(b.Found[:1]) + b.Found[1:] + "; the limit for calling a ride off is " + b.Limit + "."
}

// Breaches are the limits that c passes, in the order feels-like, gusts,
// visibility, ice. What is unknown breaches nothing: see [Limits.Unchecked].
// Validate c first.
func (l Limits) Breaches(c Conditions) []Breach {
	var found []Breach
	if feels := c.FeelsLikeC(); feels < l.FeelsLikeBelowC {
		found = append(found, Breach{"Feels like", "below " + short(l.FeelsLikeBelowC) + " °C",
			"feels like " + apart(feels, l.FeelsLikeBelowC) + " °C: air " + short(c.TempC) + " °C, wind " + short(c.WindKmh) + " km/h"})
	}
	if v := c.strongestKmh(); v > l.GustAboveKmh {
		found = append(found, Breach{"Gusts", "above " + short(l.GustAboveKmh) + " km/h",
			"wind up to " + apart(v, l.GustAboveKmh) + " km/h"})
	}
	if c.VisibilityM < l.VisibilityBelowM {
		found = append(found, Breach{"Visibility", "below " + short(l.VisibilityBelowM) + " m",
			VisibilityOf(c.VisibilityM).String() + ", " + apart(c.VisibilityM, l.VisibilityBelowM) + " m"})
	}
	if risk, why := c.Ice(); l.Ice > None && risk >= l.Ice {
		limit := "when likely"
		if l.Ice == Possible {
			limit = "when possible or likely"
		}
		found = append(found, Breach{"Ice", limit, "ice is " + risk.String() + ": " + why})
	}
	return found
}

// Unchecked names the limits that could not be fully judged because a figure
// is unknown, so that nobody takes silence for safety. Same order as Breaches.
func (l Limits) Unchecked(c Conditions) []string {
	var names []string
	if !math.IsNaN(l.GustAboveKmh) && !(c.GustKmh > 0) && c.WindKmh > 0 { // the mean wind says too little
		names = append(names, "Gusts")
	}
	if !math.IsNaN(l.VisibilityBelowM) && math.IsNaN(c.VisibilityM) {
		names = append(names, "Visibility")
	}
	if moist := c; math.IsNaN(c.DewPoint()) {
		moist.DewPointC = c.TempC // the air could be saturated
		known, _ := c.Ice()
		worst, _ := moist.Ice()
		if l.Ice > None && known < l.Ice && worst >= l.Ice {
			names = append(names, "Ice")
		}
	}
	return names
}

// short prints a figure to one decimal at most.
func short(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', -1, 64)
}

// apart prints v short, unless that would read the same as the limit it passed.
func apart(v, limit float64) string {
	if s := short(v); s != short(limit) {
		return s
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
