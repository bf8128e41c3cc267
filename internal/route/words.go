package route

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// quote shows a piece of a file inside a message, shortened.
func quote(s string) string { return strconv.Quote(cut(s, 40)) }

// cut shortens s to n characters.
func cut(s string, n int) string {
	for i := range s {
		if n == 0 {
			return s[:i] + "…"
		}
		n--
	}
	return s
}

// oneLine makes a name or description safe to show: single spaces, no control
// characters, none that turn the direction of writing, at most n characters.
func oneLine(s string, n int) string {
	s = strings.Join(strings.Fields(s), " ")
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
			return -1
		}
		return r
	}, s)
	if cutOff := cut(s, n-1); len(cutOff) < len(s) && len([]rune(s)) > n {
		return cutOff
	}
	return s
}

// metres puts a length in words.
func metres(m float64) string {
	if m < 1000 {
		return fmt.Sprintf("%.0f m", m)
	}
	return fmt.Sprintf("%.1f km", m/1000)
}

// count puts a number before a noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
