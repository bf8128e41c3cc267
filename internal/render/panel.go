package render

import (
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// A sheet is an A4 page of four panels of A6, so that folded twice it shows one panel whole, and no line crosses a fold.
// Lengths are in mm.
const (
	pageWidth, pageHeight   = 210.0, 297.0
	panelMargin             = 7.0
	panelWidth, panelHeight = pageWidth/2 - 2*panelMargin, pageHeight/2 - 2*panelMargin - runningHeight
	runningHeight           = 4.5
	panelsOnPage            = 4

	point   = 25.4 / 72 // mm
	leading = 1.24      // of the type's size
)

// fitting is a way to set a sheet.
type fitting struct {
	size  float64 // of type, points
	whole bool    // parts that are looked at as one are kept so
}

// fittings are tried in this order: large type first, then riders over two panels rather than type that needs a magnifier. The
// least type is that of small print in a newspaper (common practice, no source).
var fittings = []fitting{
	{13, true}, {12.5, true}, {12, true}, {11.5, true}, {11, true}, {10.5, true}, {10, true}, {9.5, true}, {9, true},
	{8.5, true}, {8, true}, {8.5, false}, {8, false}, {7.5, false},
}

// piece is what stays together on a panel: most often a line.
type piece struct {
	height float64
	stays  bool // with the next piece
	draw   func(x, y float64)
}

// block is a run of pieces.
type block []piece

// part is a part of a sheet. One that is whole begins on a new panel where it fits there and not here.
type part struct {
	block
	whole bool
}

func (b block) height() float64 {
	sum := 0.0
	for _, p := range b {
		sum += p.height
	}
	return sum
}

// flow puts parts on panels, in order; whole keeps those whole that are to be.
func flow(parts []part, height float64, whole bool) [][]piece {
	panels := [][]piece{nil}
	used := 0.0
	next := func() { panels, used = append(panels, nil), 0 }
	for _, one := range parts {
		b := one.block
		if h := b.height(); whole && one.whole && used > 0 && used+h > height && h <= height {
			next()
		}
		for i := 0; i < len(b); {
			end := i + 1
			for end < len(b) && b[end-1].stays {
				end++
			}
			run := b[i:end]
			if used > 0 && used+run.height() > height {
				next()
			}
			panels[len(panels)-1] = append(panels[len(panels)-1], run...)
			used += run.height()
			i = end
		}
	}
	return panels
}

// setter sets type in one width and size.
type setter struct {
	pdf     *fpdf.Fpdf
	letters *letters
	width   float64
	size    float64 // of running text, points
}

// face chooses the style ("" or "B") and size of the type, as a factor of that of running text.
func (t *setter) face(style string, scale float64) { t.pdf.SetFont("sheet", style, t.size*scale) }

// lines are s broken to a width, in the face chosen. A word too long for a line is broken after a hyphen, or
// where it must be.
func (t *setter) lines(s string, width float64) []string {
	var out []string
	line, used := "", 0.0
	space := t.pdf.GetStringWidth(" ")
	for _, word := range strings.Split(tidy(t.letters.print(s)), " ") {
		word = strings.ReplaceAll(word, noBreak, " ")
		long := t.pdf.GetStringWidth(word)
		if line != "" && used+space+long <= width {
			line, used = line+" "+word, used+space+long
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		for long > width {
			head := t.head(word, width)
			if hyphen := strings.LastIndexByte(head, '-'); hyphen > 0 {
				head = head[:hyphen+1]
			}
			out, word = append(out, head), word[len(head):]
			long = t.pdf.GetStringWidth(word)
		}
		line, used = word, long
	}
	return append(out, line)
}

// head is as much of a word as fits, at least one letter.
func (t *setter) head(word string, width float64) string {
	end := 0
	for i := range word {
		if i > 0 && t.pdf.GetStringWidth(word[:i]) > width {
			break
		}
		end = i
	}
	if end == 0 {
		for i := range word {
			if i > 0 {
				return word[:i]
			}
		}
		return word
	}
	return word[:end]
}

// text sets one paragraph. Short ones stay whole, long ones may go on overleaf.
func (t *setter) text(style string, scale, indent float64, s string) block {
	return t.marked("", style, scale, indent, s)
}

// marked is text with a mark before its first line: a number, a stroke.
func (t *setter) marked(mark, style string, scale, indent float64, s string) block {
	const short = 6
	t.face(style, scale)
	var out block
	lines := t.lines(s, t.width-indent)
	high := t.size * scale * point * leading
	for i, line := range lines {
		first := i == 0
		out = append(out, piece{height: high, stays: i+1 < len(lines) && len(lines) <= short, draw: func(x, y float64) {
			t.face(style, scale)
			if first && mark != "" {
				t.pdf.Text(x, y+high*0.8, mark)
			}
			t.pdf.Text(x+indent, y+high*0.8, line)
		}})
	}
	return out
}

// points are paragraphs, each with a stroke before it.
func (t *setter) points(lines []string) block {
	var out block
	for _, line := range lines {
		out = append(out, t.marked("–", "", 1, t.size*point*0.9, line)...)
	}
	return out
}

// heading is a heading under a line, which stays with what follows.
func (t *setter) heading(s string) block {
	b := block{piece{height: t.size * point * 0.75, stays: true, draw: func(x, y float64) {
		t.pdf.SetLineWidth(0.3)
		t.pdf.Line(x, y+t.size*point*0.45, x+t.width, y+t.size*point*0.45)
	}}}
	b = append(b, t.text("B", 1.08, 0, s)...)
	for i := range b {
		b[i].stays = true
	}
	return b
}

// space is room between parts, in lines.
func (t *setter) space(lines float64) block {
	return block{piece{height: t.size * point * leading * lines, stays: true, draw: func(float64, float64) {}}}
}
