package cli

import (
	"fmt"
	"strings"
	"unicode"

	"charm.land/lipgloss/v2"
)

// page is what a command prints for a person. Everything that goes onto it is cleaned, since titles and names come from
// other people.
type page struct {
	b      strings.Builder
	colour bool
	width  int
}

// line writes one line.
func (p *page) line(format string, args ...any) {
	p.b.WriteString(p.paint(clean(fmt.Sprintf(format, args...))) + "\n")
}

// text writes lines as they are.
func (p *page) text(text string) {
	if text = strings.TrimRight(text, "\n"); text != "" {
		p.b.WriteString(cleanLines(text) + "\n")
	}
}

// fields writes pairs of label and value, one a line, the values aligned. A pair without a value is left out.
func (p *page) fields(pairs ...[2]string) {
	var rows [][]string
	for _, pair := range pairs {
		if pair[1] != "" {
			rows = append(rows, []string{pair[0], pair[1]})
		}
	}
	p.table(nil, rows)
}

// table writes rows in aligned columns, two spaces apart; head may be nil. Widths are those of a terminal, where some
// characters take two places and some none.
func (p *page) table(head []string, rows [][]string) {
	if head != nil {
		rows = append([][]string{head}, rows...)
	}
	cells, widths := measure(rows)
	for r, row := range cells {
		var line strings.Builder
		for c, cell := range row {
			if r == 0 && head != nil {
				line.WriteString(p.style(lipgloss.NewStyle().Bold(true), cell))
			} else {
				line.WriteString(p.paint(cell))
			}
			if c < len(row)-1 {
				line.WriteString(strings.Repeat(" ", widths[c]-lipgloss.Width(cell)+2))
			}
		}
		p.b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}

// measure cleans every cell, and finds the width of each column.
func measure(rows [][]string) (cells [][]string, widths []int) {
	cells = make([][]string, len(rows))
	for r, row := range rows {
		for c, cell := range row {
			cell = clean(cell)
			cells[r] = append(cells[r], cell)
			if c == len(widths) {
				widths = append(widths, 0)
			}
			widths[c] = max(widths[c], lipgloss.Width(cell))
		}
	}
	return cells, widths
}

// paint colours a word that tells a standing. The word itself says it too.
func (p *page) paint(cell string) string {
	colours := map[string]string{"clear": "2", "advised": "3", "back": "5", "held": "1"}
	if number, ok := colours[cell]; ok {
		return p.style(lipgloss.NewStyle().Bold(true).Foreground(lipgloss.Color(number)), cell)
	}
	return cell
}

func (p *page) style(style lipgloss.Style, text string) string {
	if !p.colour || text == "" {
		return text
	}
	return style.Render(text)
}

// clean makes text safe for one line of a terminal: no control characters, nothing that turns the direction of
// writing, no bytes that are no text.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case unicode.IsControl(r), r >= 0x202A && r <= 0x202E, r >= 0x2066 && r <= 0x2069, r == 0x2028 || r == 0x2029:
			return unicode.ReplacementChar
		}
		return r
	}, strings.ToValidUTF8(text, string(unicode.ReplacementChar)))
}

// cleanLines cleans each line and keeps the lines.
func cleanLines(text string) string {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(clean(line), " ")
	}
	return strings.Join(lines, "\n")
}
