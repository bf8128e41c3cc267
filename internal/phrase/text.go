package phrase

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// FirstOf is the first word that is not empty.
func FirstOf(words ...string) string {
	for _, w := range words {
		if w != "" {
			return w
		}
	}
	return ""
}

// List joins words as in "a, b and c".
func List(words []string) string { return joined(words, " and ") }

// Either joins words as in "a, b or c".
func Either(words []string) string { return joined(words, " or ") }

func joined(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	n := len(words) - 1
	return strings.Join(words[:n], ", ") + last + words[n]
}

// Sentence is s with a capital at its head and a stop at its end; empty for nothing.
func Sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	if head, size := utf8.DecodeRuneInString(s); head != utf8.RuneError {
		s = string(unicode.ToUpper(head)) + s[size:]
	}
	return Stopped(s)
}

// Stopped is s with a stop at its end, to follow a colon; empty for nothing.
func Stopped(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		return s
	}
	return s + "."
}

// Bare is s without a stop at its end, to go inside a sentence.
func Bare(s string) string { return strings.TrimRight(strings.TrimSpace(s), ".;") }

// Between is s between two others; empty for nothing.
func Between(before, s, after string) string {
	if s == "" {
		return ""
	}
	return before + s + after
}
