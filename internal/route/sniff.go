package route

import (
	"bytes"
	"strings"
)

// kinds of file that are taken for GPX now and then, by how they start.
// Sources: the formats' own specifications; "FIT" is at byte 8.
var binaries = []struct{ magic, name string }{
	{"PK\x03\x04", "a zip archive"},
	{"\x1f\x8b", "a gzip archive"},
	{"%PDF", "a PDF document"},
	{"\x89PNG", "a picture"},
	{"\xff\xd8\xff", "a picture"},
}

// notGPX says what a file that cannot be GPX looks like, judged by its first
// bytes; nil if it may be GPX.
func notGPX(head []byte) *Error {
	text := bytes.TrimSpace(head)
	start := strings.ToLower(string(text[:min(len(text), 64)]))
	if len(text) == 0 {
		return &Error{What: "the file is empty", Next: "export or download it again"}
	}
	if len(head) >= 12 && string(head[8:12]) == ".FIT" {
		return looksLike("a FIT activity file")
	}
	for _, b := range binaries {
		if bytes.HasPrefix(head, []byte(b.magic)) {
			return looksLike(b.name)
		}
	}
	switch {
	case bytes.IndexByte(head, 0) >= 0:
		return looksLike("a binary file")
	case strings.HasPrefix(start, "<!doctype html"), strings.HasPrefix(start, "<html"):
		return webPage()
	case start[0] == '{' || start[0] == '[':
		return looksLike("JSON")
	case start[0] != '<':
		return looksLike("plain text")
	}
	return nil
}

// notRoot says what an XML file whose root is not gpx is.
func notRoot(root string) *Error {
	switch strings.ToLower(root) {
	case "html":
		return webPage()
	case "kml":
		return looksLike("KML")
	case "trainingcenterdatabase":
		return looksLike("TCX")
	}
	return looksLike("XML with the root element " + quote(root))
}

func looksLike(what string) *Error {
	return &Error{What: "this is not a GPX file: it looks like " + what, Next: "export the route as GPX 1.1"}
}

func webPage() *Error {
	return &Error{
		What: "this is not a GPX file: it looks like a web page",
		Next: "sign in where the route is kept and download it again",
	}
}
