package strictyaml

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// maxSpan bounds spans of time, so that sums cannot overflow: about a hundred years.
const maxSpan = 36500 * 24 * time.Hour

// What is wrong with a span of time; the text itself goes before the words.
var (
	errNotSpan  = errors.New("is not a span of time")
	errLongSpan = errors.New("is too long a span of time; 36500d is the longest")
)

// unit is one unit of a span of time.
type unit struct {
	names []string // the first is written, all are read
	size  time.Duration
}

// units are those that spans are written in, largest first.
func units() []unit {
	return []unit{
		{[]string{"d"}, 24 * time.Hour},
		{[]string{"h"}, time.Hour},
		{[]string{"m", "min"}, time.Minute},
		{[]string{"s"}, time.Second},
	}
}

// ParseDuration reads a span of time such as "30m", "28d", "1h30m" or "90s": whole numbers with units, each smaller than
// the one before. One space may stand before a unit and between parts.
func ParseDuration(text string) (time.Duration, error) {
	total, rest, left := time.Duration(0), text, units()
	for first := true; first || rest != ""; first = false {
		digits := leading(rest, "0123456789")
		n, err := strconv.ParseInt(digits, 10, 32)
		if err != nil {
			return 0, errNotSpan
		}
		rest = strings.TrimPrefix(rest[len(digits):], " ")
		name := leading(rest, "dhmins")
		at := find(left, name)
		if at < 0 {
			return 0, errNotSpan
		}
		if n > int64(maxSpan/left[at].size) {
			return 0, errLongSpan
		}
		total += time.Duration(n) * left[at].size
		left = left[at+1:]
		rest = strings.TrimPrefix(rest[len(name):], " ")
	}
	if total > maxSpan {
		return 0, errLongSpan
	}
	return total, nil
}

// FormatDuration writes a span of time of whole seconds, not negative, as ParseDuration reads it. A part of a second is
// left out.
func FormatDuration(span time.Duration) string {
	var b strings.Builder
	for _, u := range units() {
		if n := span / u.size; n > 0 {
			fmt.Fprintf(&b, "%d%s", n, u.names[0])
			span -= n * u.size
		}
	}
	if b.Len() == 0 {
		return "0m"
	}
	return b.String()
}

// leading is the part at the start of the text made of the letters.
func leading(text, letters string) string {
	return text[:len(text)-len(strings.TrimLeft(text, letters))]
}

func find(units []unit, name string) int {
	for i, u := range units {
		for _, known := range u.names {
			if known == name {
				return i
			}
		}
	}
	return -1
}
