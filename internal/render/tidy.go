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
	var out strings.Builder
	out.Grow(len(s) + 16)
	for s != "" {
		clause := s
		if end := strings.IndexFunc(s, endsClause); end >= 0 {
			clause = s[:end]
		}
		if s = s[len(clause):]; numberBefore(clause) {
			clause = together().ReplaceAllStringFunc(clause, func(m string) string { return strings.ReplaceAll(m, " ", noBreak) })
		}
		out.WriteString(clause)
		between := len(s) - len(strings.TrimLeftFunc(s, endsClause))
		out.WriteString(s[:between])
		s = s[between:]
	}
	return out.String()
}

// endsClause tells whether a character stands in nothing that together keeps. Between such characters the pattern finds the same as in the
// whole text, and reads far less.
func endsClause(r rune) bool {
	switch {
	case r >= '0' && r <= '9', r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r == '_', r == ' ', r == '°', r == '%', r == '/', r == '+':
		return false
	}
	return true
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
