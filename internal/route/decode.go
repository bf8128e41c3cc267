package route

import (
	"bufio"
	"encoding/xml"
	"io"
	"strings"
	"unicode"

	"golang.org/x/text/encoding/charmap"
	utf "golang.org/x/text/encoding/unicode"
)

// maxTokenBytes is far above any tag or text of a sound file; without it one
// endless tag would be held in memory.
const maxTokenBytes = 1 << 20

// sizeLimit refuses a file when it turns out longer than MaxBytes.
type sizeLimit struct {
	r    io.Reader
	left int
}

func (l *sizeLimit) Read(p []byte) (int, error) {
	n, err := l.r.Read(p[:min(len(p), l.left+1)])
	if l.left -= n; l.left < 0 {
		return 0, &Error{What: "the file is larger than 32 MB", Next: "thin out its points or split it into rides"}
	}
	return n, err
}

// tokenLimit refuses a single tag or text of more than maxTokenBytes.
type tokenLimit struct {
	r    io.Reader
	read int // since the token began; set to 0 by the parser
}

func (l *tokenLimit) Read(p []byte) (int, error) {
	if l.read > maxTokenBytes {
		return 0, &Error{What: "one tag or text is longer than 1 MB", Next: exportAgain}
	}
	n, err := l.r.Read(p)
	l.read += n
	return n, err
}

// plain gives the file as UTF-8 where its first bytes say that it is UTF-16,
// and without a byte order mark; else as it is.
func plain(r io.Reader) io.Reader {
	in := bufio.NewReader(r)
	head, _ := in.Peek(4)
	switch start := string(head); {
	case strings.HasPrefix(start, "\xEF\xBB\xBF"):
		in.Discard(3) // cannot fail: it was peeked
	case strings.HasPrefix(start, "\xFF\xFE"), start == "<\x00?\x00", start == "<\x00g\x00":
		return utf.UTF16(utf.LittleEndian, utf.UseBOM).NewDecoder().Reader(in)
	case strings.HasPrefix(start, "\xFE\xFF"), start == "\x00<\x00?", start == "\x00<\x00g":
		return utf.UTF16(utf.BigEndian, utf.UseBOM).NewDecoder().Reader(in)
	}
	return in
}

// charset reads the single-byte encodings that an XML declaration may name.
// UTF-16 is plain by now, whatever the declaration still says.
func charset(label string, in io.Reader) (io.Reader, error) {
	want := letters(label)
	switch want {
	case "utf16", "utf16le", "utf16be", "usascii", "ascii", "utf8":
		return in, nil
	case "latin1":
		want = "iso88591"
	}
	for _, enc := range charmap.All {
		if m, ok := enc.(*charmap.Charmap); ok && letters(m.String()) == want {
			return m.NewDecoder().Reader(in), nil
		}
	}
	return nil, &Error{What: "the encoding " + quote(label) + " is not one of those read", Next: "save the file as UTF-8"}
}

// letters is a name without case, spaces and dashes.
func letters(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}

// newDecoder is an XML decoder that is strict and knows no entities but XML's own.
func newDecoder(r io.Reader) *xml.Decoder {
	dec := xml.NewDecoder(r)
	dec.CharsetReader = charset
	return dec
}
