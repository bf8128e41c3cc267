package render

import (
	"bytes"
	_ "embed" // the typefaces
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// The typefaces of what is printed. Their licence lies beside them.
//
//go:embed fonts/DejaVuSansCondensed.ttf
var regularType []byte

//go:embed fonts/DejaVuSansCondensed-Bold.ttf
var boldType []byte

// unprinted stands for letters that the typefaces cannot show.
const unprinted = "[…]"

// scripts are those that can be set letter by letter from left to right, as is done here. Others the typefaces may have
// glyphs of, but set so they would be wrong.
var scripts = []*unicode.RangeTable{
	unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Armenian, unicode.Georgian, unicode.Common, unicode.Inherited,
}

// cmaps are the typefaces' tables of glyphs, read once.
var cmaps = sync.OnceValues(func() ([]*sfnt.Font, error) {
	var out []*sfnt.Font
	for _, file := range [][]byte{regularType, boldType} {
		face, err := sfnt.Parse(file)
		if err != nil {
			return nil, err
		}
		out = append(out, face)
	}
	return out, nil
})

// letters knows which letters can be printed, and keeps those that were asked for and cannot.
type letters struct {
	faces []*sfnt.Font
	buf   sfnt.Buffer
	known map[rune]bool
	lost  []rune // in the order met, each once
}

func newLetters() (*letters, error) {
	faces, err := cmaps()
	return &letters{faces: faces, known: map[rune]bool{}}, err
}

// print is s as it is printed: composed (NFC), and with unprinted for each run of letters that cannot be.
func (l *letters) print(s string) string {
	var b strings.Builder
	lost, space := false, false // what stands before: letters lost, and since them a space
	for _, r := range norm.NFC.String(s) {
		switch {
		case unicode.Is(unicode.Cf, r) || r >= 0xFE00 && r <= 0xFE0F: // invisible: joiners, soft hyphens, variants
		case r == ' ' && lost:
			space = true
		case l.has(r):
			if space {
				b.WriteByte(' ')
			}
			b.WriteRune(r)
			lost, space = false, false
		default:
			if !slices.Contains(l.lost, r) {
				l.lost = append(l.lost, r)
			}
			if !lost {
				b.WriteString(unprinted)
			}
			lost, space = true, false
		}
	}
	return b.String()
}

func (l *letters) has(r rune) bool {
	have, seen := l.known[r]
	if !seen {
		have = r <= 0xFFFF && unicode.In(r, scripts...)
		for _, face := range l.faces {
			glyph, err := face.GlyphIndex(&l.buf, r)
			have = have && err == nil && glyph != 0
		}
		l.known[r] = have
	}
	return have
}

// words name the letters that could not be printed; empty for none.
func (l *letters) words() string {
	if len(l.lost) == 0 {
		return ""
	}
	const most = 8
	var b bytes.Buffer
	for _, r := range l.lost[:min(len(l.lost), most)] {
		fmt.Fprintf(&b, " U+%04X", r)
	}
	if more := len(l.lost) - most; more > 0 {
		fmt.Fprintf(&b, " and %d more", more)
	}
	return unprinted + " stands for letters that this typeface cannot print:" + b.String() +
		". The roster as text or page has them."
}
