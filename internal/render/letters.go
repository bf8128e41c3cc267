package render

import (
	"math"
	"strconv"
	"strings"
	"unicode"

	"github.com/charmbracelet/x/ansi"
)

// px is a length in the picture's own units, written with one decimal.
type px float64

func (v px) String() string { return strconv.FormatFloat(math.Round(float64(v)*10)/10+0, 'f', -1, 64) }

// textWidth is how wide s is at most in a sans-serif type of a size. The picture cannot measure: the reader's typeface is
// not known here. The factors are those of a wide common face, rounded up (common practice, no source).
func textWidth(s string, size px) px {
	em := 0.0
	for _, r := range s {
		switch {
		case r >= 0x1100 && ansi.StringWidth(string(r)) > 1:
			em += 1.1
		case unicode.Is(unicode.Mn, r):
		case strings.ContainsRune("iljtfr.,:;'|!()- ", r):
			em += 0.42
		case strings.ContainsRune("mwMW@%—…", r):
			em += 1.0
		case unicode.IsUpper(r):
			em += 0.75
		case r < 0x250:
			em += 0.64
		default:
			em += 1.0
		}
	}
	return px(em) * size
}

// fit is s cut to a width, with "…" for what is lost; empty where not even that has room.
func fit(s string, size, width px) string {
	if textWidth(s, size) <= width {
		return s
	}
	runes := []rune(s)
	for n := min(len(runes)-1, int(width/size*3)); n > 0; n-- {
		if short := strings.TrimRight(string(runes[:n]), " ,") + "…"; textWidth(short, size) <= width {
			return short
		}
	}
	return ""
}

// label is a text in the picture. X is its left end, its middle or its right end, as Anchor says: "", "middle" or "end". The
// reader's typeface then moves no text off what it belongs to, whatever its widths are.
type label struct {
	X, Y   px
	Text   string
	Anchor string
}

// centred is a label around x, or against an edge that it would run over.
func centred(x, y px, text string, left, right px) label {
	switch half := textWidth(text, smallSize) / 2; {
	case x-half < left:
		return label{left, y, text, ""}
	case x+half > right:
		return label{right, y, text, "end"}
	}
	return label{x, y, text, "middle"}
}

// from and to are where a label begins and ends, as far as textWidth knows.
func (l label) from() px {
	switch wide := textWidth(l.Text, smallSize); l.Anchor {
	case "middle":
		return l.X - wide/2
	case "end":
		return l.X - wide
	}
	return l.X
}

func (l label) to() px { return l.from() + textWidth(l.Text, smallSize) }
