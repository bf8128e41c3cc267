package render

import (
	"io"
	"strings"

	"charm.land/lipgloss/v2"
	"github.com/charmbracelet/x/ansi"
)

const (
	defaultWidth = 80
	minWidth     = 40
	maxWidth     = 200
)

// page gathers lines of text no wider than width.
type page struct {
	b      strings.Builder
	width  int
	colour bool
}

func newPage(opt TextOptions) *page {
	width := opt.Width
	if width <= 0 {
		width = defaultWidth
	}
	return &page{width: max(minWidth, min(width, maxWidth)), colour: opt.Colour}
}

func (t *page) writeTo(w io.Writer) error {
	_, err := io.WriteString(w, t.b.String())
	return err
}

// style is what a line looks like on a terminal.
type style int

const (
	plain style = iota
	strong
	dim
	alarm
)

// paint styles s, if the page has colour. Numbers are of the terminal's own palette, so that its owner decides.
func (t *page) paint(s string, st style) string {
	if !t.colour || st == plain || s == "" {
		return s
	}
	look := lipgloss.NewStyle()
	switch st {
	case strong:
		look = look.Bold(true)
	case dim:
		look = look.Faint(true)
	case alarm:
		look = look.Bold(true).Foreground(lipgloss.Color("1"))
	}
	return look.Render(s)
}

// wrapped adds s in lines that begin with first, then with rest, both without wide characters.
func (t *page) wrapped(first, rest, s string, st style) {
	for i, line := range wrap(s, t.width-len(first)) {
		lead := rest
		if i == 0 {
			lead = first
		}
		t.b.WriteString(strings.TrimRight(lead+t.paint(line, st), " ") + "\n")
	}
}

func (t *page) gap()           { t.b.WriteString("\n") }
func (t *page) line(s string)  { t.wrapped("", "", s, plain) }
func (t *page) bold(s string)  { t.wrapped("", "", s, strong) }
func (t *page) faint(s string) { t.wrapped("", "", s, dim) }
func (t *page) warn(s string)  { t.wrapped("", "", s, alarm) }
func (t *page) point(s string) { t.wrapped("- ", "  ", s, plain) }

// raw adds s as it is, but for spaces at its end.
func (t *page) raw(s string, st style) {
	t.b.WriteString(t.paint(strings.TrimRight(s, " "), st) + "\n")
}

func (t *page) para(indent int, s string) {
	lead := strings.Repeat(" ", indent)
	t.wrapped(lead, lead, s, plain)
}

// heading is a title over a rule, with air above.
func (t *page) heading(s string) {
	t.gap()
	lines := wrap(s, t.width)
	wide := 0
	for _, line := range lines {
		wide = max(wide, ansi.StringWidth(line))
	}
	t.bold(s)
	t.faint(strings.Repeat("-", wide))
}

// wrap breaks s into lines no wider than width, words first, then anywhere; wide characters count two. One line at least.
// What tidy keeps together stays so as long as it fits.
func wrap(s string, width int) []string {
	lines := strings.Split(ansi.Wrap(tidy(s), max(width, 2), ""), "\n")
	for i := range lines {
		lines[i] = strings.TrimSpace(strings.ReplaceAll(lines[i], noBreak, " "))
	}
	return lines
}

// pad fills s with spaces to width.
func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(0, width-ansi.StringWidth(s)))
}

// cut is s no wider than width, with "…" for what is lost.
func cut(s string, width int) string { return ansi.Truncate(s, width, "…") }
