package strictyaml

import (
	"fmt"
	"strings"
	"unicode"

	"golang.org/x/text/width"

	pb "gritward/proto/gritward/v1"
)

// Excerpts of long lines show a window that begins this many characters before the column.
const (
	excerptBefore = 60
	excerptLength = 160
	excerptCut    = "…"
)

// Format writes problems for a person, each with the offending line and a caret under the place.
func Format(problems []*pb.Problem) string {
	var b strings.Builder
	for _, problem := range problems {
		formatOne(&b, problem)
	}
	return b.String()
}

func formatOne(b *strings.Builder, problem *pb.Problem) {
	b.WriteString(problem.File)
	if problem.Line > 0 {
		fmt.Fprintf(b, ":%d:%d", problem.Line, problem.Column)
	}
	b.WriteString(": ")
	if problem.Severity == pb.Problem_WARNING {
		b.WriteString("warning: ")
	}
	b.WriteString(problem.Message)
	b.WriteByte('\n')
	if problem.Excerpt != "" {
		fmt.Fprintf(b, "    %s\n    %s^\n", problem.Excerpt, indent(problem))
	}
	if problem.Hint != "" {
		fmt.Fprintf(b, "    %s\n", problem.Hint)
	}
}

// indent is blank space as wide as what stands before the problem's column in its excerpt.
func indent(problem *pb.Problem) string {
	runes := []rune(problem.Excerpt)
	before := int(problem.Column) - 1
	if before > excerptLength {
		before = excerptBefore + 1
	}
	var b strings.Builder
	for _, r := range runes[:min(max(before, 0), len(runes))] {
		switch {
		case unicode.Is(unicode.Mn, r):
		case isWide(r):
			b.WriteString("  ")
		default:
			b.WriteByte(' ')
		}
	}
	return b.String()
}

func isWide(r rune) bool {
	kind := width.LookupRune(r).Kind()
	return kind == width.EastAsianWide || kind == width.EastAsianFullwidth
}

// excerpt is the line as it can safely be printed: without control characters, and of a long line a window around the
// column.
func (p *Positions) excerpt(line, column int) string {
	if line < 1 || line > len(p.lines) {
		return ""
	}
	runes := []rune(strings.TrimRight(p.lines[line-1], " \t\r"))
	for i, r := range runes {
		if r == '\t' {
			runes[i] = ' '
		} else if refused(r) != "" {
			runes[i] = unicode.ReplacementChar
		}
	}
	head, tail := "", ""
	if column-1 > excerptLength {
		runes, head = runes[min(column-1-excerptBefore, len(runes)):], excerptCut
	}
	if len(runes) > excerptLength {
		runes, tail = runes[:excerptLength], excerptCut
	}
	return head + string(runes) + tail
}
