package brief

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// clock is an instant as HH:MM in the club's zone, with the day where it is not the ride's.
func (t *teller) clock(at *timestamppb.Timestamp) string {
	if !at.IsValid() {
		return "a time not known"
	}
	local := at.AsTime().In(t.loc)
	if t.day != "" && local.Format(time.DateOnly) != t.day {
		return local.Format("15:04 on Monday 2 January")
	}
	return local.Format("15:04")
}

// number is v to so many decimals, without zeros at the end and with a true minus sign.
func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "an unknown number of"
	}
	scale := math.Pow10(decimals)
	s := strconv.FormatFloat(math.Round(v*scale)/scale+0, 'f', -1, 64)
	return strings.Replace(s, "-", "−", 1)
}

// km is a distance given in m.
func km(m float64) string { return number(m/1000, 1) + " km" }

// degrees is a temperature in °C.
func degrees(c float64) string { return number(c, 0) + " °C" }

// sight is a visibility given in m.
func sight(m float64) string {
	if m >= 1000 {
		return km(m)
	}
	return number(m, 0) + " m"
}

// span is whole minutes in words: "45 min", "3 h 5 min".
func span(min float64) string {
	if !(math.Abs(min) < 1e7) {
		return "an unknown time"
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

// list joins words as in "a, b and c".
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

// sentence is s with a capital at its head and a stop at its end; empty for nothing.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	if head, size := utf8.DecodeRuneInString(s); head != utf8.RuneError {
		s = string(unicode.ToUpper(head)) + s[size:]
	}
	return stopped(s)
}

// stopped is s with a stop at its end, to follow a colon; empty for nothing.
func stopped(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		return s
	}
	return s + "."
}

// bare is s without a stop at its end, to go inside a sentence.
func bare(s string) string { return strings.TrimRight(strings.TrimSpace(s), ".;") }

// prefixed is s between two others; empty for nothing.
func prefixed(before, s, after string) string {
	if s == "" {
		return ""
	}
	return before + s + after
}

// firstOf is the first word that is not empty.
func firstOf(words ...string) string {
	for _, w := range words {
		if w != "" {
			return w
		}
	}
	return ""
}
