package render

import (
	"regexp"
	"strings"
	"sync"
)

const noBreak = "\u00A0"

var (
	// together is what a line does not break inside: times, a number with its unit, a date, a telephone number.
	together = lazily(`\d+ h \d+ min\b|\d (?:(?:km/h|km|mm|min|m|h|s|lm|W|kg|riders?)\b|°C|%)|` +
		`(?:\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]* )?\b\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*\b(?: \d{4}\b)?|` +
		`\+?\d{2,}(?: \d{3,})+`)
	minus = lazily(`(^|[\s(])-(\d[\d.]*[\s` + noBreak + `]°C)`)
)

// lazily compiles a pattern when it is first used: a program that writes nothing starts sooner.
func lazily(pattern string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(pattern) })
}

// Tidy is tidy, for the pages.
func Tidy(s string) string { return tidy(s) }

// tidy is s with spaces that a line does not break at where together says so, and true minus signs before temperatures.
func tidy(s string) string {
	if strings.Contains(s, "°C") && strings.Contains(s, "-") {
		s = minus().ReplaceAllString(s, "$1−$2")
	}
	if !numberBefore(s) {
		return s
	}
	return together().ReplaceAllStringFunc(s, func(m string) string { return strings.ReplaceAll(m, " ", noBreak) })
}

// numberBefore tells whether a digit stands before a space anywhere, as in all that together keeps: most texts have none, and need no
// pattern held against them.
func numberBefore(s string) bool {
	for i := 1; i < len(s); i++ {
		if s[i] == ' ' && s[i-1] >= '0' && s[i-1] <= '9' {
			return true
		}
	}
	return false
}
