package strictyaml

import (
	"bytes"
	"fmt"
	"unicode"
	"unicode/utf8"
)

// text looks at the bytes alone: size, encoding, characters that no such file needs. It tells whether they are sound.
func (r *reader) text(data []byte) bool {
	if len(data) > MaxBytes {
		r.report.problems = append(r.report.problems, r.positions.problemAt(0, 0, "",
			fmt.Sprintf("the file has %d bytes; %d (1 MiB) is the most that is read", len(data), MaxBytes),
			"check that this is the right file"))
		return false
	}
	if encoding := wideEncoding(data); encoding != "" {
		r.report.at(1, 1, "", "the file is "+encoding, "save it again as UTF-8")
		return false
	}
	line, column := 1, 1
	for i := 0; i < len(data); {
		c, size := utf8.DecodeRune(data[i:])
		what := refused(c)
		switch {
		case c == utf8.RuneError && size == 1:
			r.report.at(line, column, "", fmt.Sprintf("byte %#02x is not UTF-8", data[i]), "save the file as UTF-8")
		case c == '\r' && bytes.HasPrefix(data[i+1:], []byte("\n")):
		case c == '\ufeff' && i == 0:
			column--
		case what != "":
			r.report.at(line, column, "", what, hintFor(c))
		}
		i += size
		column++
		if c == '\n' {
			line, column = line+1, 1
		}
	}
	return len(r.report.problems) == 0
}

// wideEncoding recognises files of two or four bytes a character, by their mark or by the zero bytes of plain letters.
func wideEncoding(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe, 0, 0}), bytes.HasPrefix(data, []byte{0, 0, 0xfe, 0xff}):
		return "UTF-32"
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return "UTF-16"
	case len(data) < 4:
		return ""
	}
	bigEnd := data[0] == 0 && data[1] != 0 && data[2] == 0 && data[3] != 0
	littleEnd := data[0] != 0 && data[1] == 0 && data[2] != 0 && data[3] == 0
	if bigEnd || littleEnd {
		return "UTF-16"
	}
	return ""
}

func hintFor(c rune) string {
	switch {
	case c == '\t':
		return "use spaces; in most editors the Tab key can be set to write them"
	case c == '\r':
		return "save the file with the line ends of Unix or Windows, or take it out"
	case unicode.Is(unicode.Zs, c):
		return "write a plain space"
	default:
		return "take it out"
	}
}

// refused says why a character may not stand in a file; empty where it may. Characters that move the cursor, break
// lines elsewhere than \n does, or turn the direction of writing would make what is read differ from what is seen.
func refused(c rune) string {
	switch {
	case c == '\n':
		return ""
	case c == '\t':
		return "a tab"
	case c == '\r':
		return "a carriage return in the middle of a line"
	case unicode.IsControl(c):
		return fmt.Sprintf("a control character, U+%04X", c)
	case c != ' ' && unicode.Is(unicode.Zs, c):
		return fmt.Sprintf("a space that is not a plain one, U+%04X", c)
	case c == '\u2028' || c == '\u2029':
		return fmt.Sprintf("a line separator, U+%04X", c)
	case c >= '\u202a' && c <= '\u202e' || c >= '\u2066' && c <= '\u2069' || c == '\u200e' || c == '\u200f' || c == '\u061c':
		return fmt.Sprintf("an invisible character that turns the direction of writing, U+%04X", c)
	case c == '\ufeff' || c == '\u200b' || c == '\u2060':
		return fmt.Sprintf("an invisible character, U+%04X", c)
	case c == '\ufffe' || c == '\uffff':
		return fmt.Sprintf("a character that is none, U+%04X", c)
	default:
		return ""
	}
}
