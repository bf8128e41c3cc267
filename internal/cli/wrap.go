package cli

import (
	"fmt"
	"regexp"
	"strings"

	"charm.land/lipgloss/v2"
)

const defaultColumns = 80

// para writes text in lines of the page's width, all of them indented, those after the first by two more.
func (p *page) para(indent int, format string, args ...any) {
	head := strings.Repeat(" ", indent)
	for i, line := range wrap(clean(fmt.Sprintf(format, args...)), p.wide()-indent-2) {
		if i == 1 {
			head += "  "
		}
		p.b.WriteString(strings.TrimRight(head+line, " ") + "\n")
	}
}

// wide is the width of the page for text, 40 to 120 columns.
func (p *page) wide() int {
	if p.width == 0 {
		return defaultColumns
	}
	return p.columns()
}

// A number stays with its unit, and a day with its month.
var glued = regexp.MustCompile(`(\d) (km/h|km|m|mm|min|h|s|°C|%|cd|lm|days?|January|February|March|April|May|June|July|August|September|October|November|December)\b`)

// wrap cuts clean text into lines of at most most columns, between words. A longer word has a line of its own.
func wrap(text string, most int) []string {
	const glue = "\ue000" // of the private use area, which no font draws
	var lines []string
	line := ""
	for _, word := range strings.Fields(glued.ReplaceAllString(strings.ReplaceAll(text, glue, ""), "$1"+glue+"$2")) {
		switch {
		case line == "":
			line = word
		case lipgloss.Width(line)+1+lipgloss.Width(word) <= most:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
	}
	lines = append(lines, line)
	for i := range lines {
		lines[i] = strings.ReplaceAll(lines[i], glue, " ")
	}
	return lines
}
