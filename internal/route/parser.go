package route

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
)

// maxDepth of elements: GPX itself needs 5, extensions a few more.
const maxDepth = 64

// parser walks the tokens of a file and knows where it is.
type parser struct {
	dec       *xml.Decoder
	limit     *tokenLimit
	space     string // namespace of the root; elements of others are extensions
	line, col int    // where the last token began
	text      []byte // of the element being read
	doc       document
}

// document is what a file holds.
type document struct {
	name           string
	tracks, routes []path
	waypoints      []Waypoint
	points         int // of all tracks and routes
	moreWaypoints  int // beyond MaxWaypoints
}

// path is one track, or one route of the file.
type path struct {
	name    string
	coords  []Coord // ElevM is infinite where the file's elevation is not usable
	backs   int     // times that lie before the one before them
	lengthM float64 // as far as needed to choose; see choose.go
}

// next is the next token, io.EOF after the last.
func (p *parser) next() (xml.Token, error) {
	p.limit.read = 0
	p.line, p.col = p.dec.InputPos()
	tok, err := p.dec.Token()
	switch {
	case err == io.EOF:
		return nil, err
	case err != nil:
		return nil, p.broken(err)
	}
	if d, ok := tok.(xml.Directive); ok {
		return nil, p.doctype(string(d))
	}
	return tok, nil
}

// doctype refuses what could make a reader fetch or fill in other content.
func (p *parser) doctype(directive string) *Error {
	if strings.HasPrefix(strings.ToLower(directive), "doctype html") {
		return webPage()
	}
	return p.at("the file has a document type declaration (<!DOCTYPE), which is refused for safety", exportAgain)
}

// at makes an error about the last token.
func (p *parser) at(what, next string) *Error {
	return &Error{Line: p.line, Column: p.col, What: what, Next: next}
}

// broken puts an error of the decoder in words, with the place it was met.
func (p *parser) broken(err error) error {
	line, col := p.dec.InputPos()
	var own *Error
	if errors.As(err, &own) {
		return &Error{Line: line, Column: col, What: own.What, Next: own.Next}
	}
	var syntax *xml.SyntaxError
	if !errors.As(err, &syntax) {
		return &Error{Line: line, Column: col, What: "the file cannot be read: " + err.Error(), Next: exportAgain}
	}
	bad := func(what, next string) error { return &Error{Line: line, Column: col, What: what, Next: next} }
	switch msg := syntax.Msg; {
	case msg == "unexpected EOF":
		return bad("the file breaks off before its end", "download or export it again")
	case msg == "invalid UTF-8":
		return bad("there is a byte that is not UTF-8 text", "save the file as UTF-8")
	case strings.HasPrefix(msg, "invalid character entity"):
		return bad("the entity "+quote(strings.TrimPrefix(msg, "invalid character entity "))+" is not one of XML's own", exportAgain)
	default:
		return bad("the XML is not well-formed: "+cut(msg, 120), exportAgain)
	}
}

// children visits the elements of GPX inside the one just begun, up to its
// end. visit must read to the end of the element it is given.
func (p *parser) children(visit func(xml.StartElement) error) error {
	for {
		tok, err := p.next()
		if err != nil {
			return err
		}
		switch t := tok.(type) {
		case xml.EndElement:
			return nil
		case xml.StartElement:
			if t.Name.Space != p.space {
				err = p.skip()
			} else {
				err = visit(t)
			}
			if err != nil {
				return err
			}
		}
	}
}

// skip reads to the end of the element just begun.
func (p *parser) skip() error {
	for depth := 1; depth > 0; {
		tok, err := p.next()
		if err != nil {
			return err
		}
		switch tok.(type) {
		case xml.StartElement:
			if depth++; depth > maxDepth {
				return p.at("elements are nested more than 64 deep", exportAgain)
			}
		case xml.EndElement:
			depth--
		}
	}
	return nil
}

// content is the text of the element just begun, up to its end. It is good
// until the next call.
func (p *parser) content() ([]byte, error) {
	p.text = p.text[:0]
	for {
		tok, err := p.next()
		if err != nil {
			return nil, err
		}
		switch t := tok.(type) {
		case xml.EndElement:
			return p.text, nil
		case xml.StartElement:
			if err := p.skip(); err != nil {
				return nil, err
			}
		case xml.CharData:
			if len(p.text) < maxTokenBytes {
				p.text = append(p.text, t...)
			}
		}
	}
}

// words is content as a name or description of at most n characters.
func (p *parser) words(into *string, n int) error {
	text, err := p.content()
	if err == nil {
		*into = oneLine(string(text), n)
	}
	return err
}
