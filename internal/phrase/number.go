// Package phrase has the words that the brief, the pages and the sheets tell numbers, times and a group's light with, so
// that all of them tell the same in the same way.
package phrase

import (
	"math"
	"strconv"
	"strings"
)

// Number is v to so many decimals, without zeros at the end and with a true minus sign; "?" for what is none.
func Number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "?"
	}
	scale := math.Pow10(decimals)
	return strings.Replace(strconv.FormatFloat(math.Round(v*scale)/scale+0, 'f', -1, 64), "-", "−", 1)
}

// Km is a distance given in m.
func Km(m float64) string { return Number(m/1000, 1) + " km" }

// Degrees is a temperature in °C.
func Degrees(c float64) string { return Number(c, 0) + " °C" }

// Sight is a visibility given in m.
func Sight(m float64) string {
	if m >= 1000 {
		return Km(m)
	}
	return Number(m, 0) + " m"
}

// Span is whole minutes: "45 min", "3 h 5 min".
func Span(min float64) string {
	if !(math.Abs(min) < 1e7) {
		return "?"
	}
	n := int(min)
	switch {
	case n < 60:
		return strconv.Itoa(n) + " min"
	case n%60 == 0:
		return strconv.Itoa(n/60) + " h"
	}
	return strconv.Itoa(n/60) + " h " + strconv.Itoa(n%60) + " min"
}

// AtLeast is Span rounded up: of dark or lit minutes one more is the careful side.
func AtLeast(min float64) string { return Span(math.Ceil(min)) }

// Counted is "1 rider", "3 riders".
func Counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
