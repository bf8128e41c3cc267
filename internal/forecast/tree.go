package forecast

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxDepth is how deep a document may nest; the format nests eight deep.
const maxDepth = 32

// node is a value of a document with its path, for messages. The value is one of nil, bool, string, json.Number,
// map[string]any and []any.
type node struct {
	path  string
	value any
}

// parse reads a document whole. It is stricter than encoding/json: names are told apart by case and stand once in an
// object (RFC 8259, section 4, leaves it open what the second of two means), text is UTF-8, nothing follows the end.
func parse(data []byte) (node, *Error) {
	switch {
	case len(data) > MaxBytes:
		return node{}, wrong("", "is larger than %d KiB, which no forecast for one place is", MaxBytes>>10)
	case len(bytes.TrimSpace(data)) == 0:
		return node{}, wrong("", "is empty")
	case !utf8.Valid(data):
		return node{}, wrong("", "is not text in UTF-8, which JSON must be")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff")) // RFC 8259, section 8.1: a mark of the byte order may be passed over
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.UseNumber()
	value, failed := readValue(decoder, "", 0)
	if failed == nil {
		if _, err := decoder.Token(); err != io.EOF {
			failed = wrong(place(data, decoder.InputOffset()), "something follows the end of the forecast")
		}
	}
	if failed != nil && failed.Where == "" {
		failed.Where = place(data, decoder.InputOffset())
	}
	return node{value: value}, failed
}

// place is line:column of an offset, both from 1.
func place(data []byte, offset int64) string {
	before := data[:min(offset, int64(len(data)))]
	line := bytes.Count(before, []byte("\n")) + 1
	column := utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:]) + 1
	return strconv.Itoa(line) + ":" + strconv.Itoa(column)
}

func readValue(decoder *json.Decoder, path string, depth int) (any, *Error) {
	token, err := decoder.Token()
	if err != nil {
		return nil, syntax(err)
	}
	delim, opens := token.(json.Delim)
	switch {
	case !opens:
		return token, nil
	case depth == maxDepth:
		return nil, wrong(path, "nests deeper than %d levels", maxDepth)
	case delim == '{':
		return readObject(decoder, path, depth)
	default:
		return readList(decoder, path, depth)
	}
}

func readObject(decoder *json.Decoder, path string, depth int) (any, *Error) {
	object := map[string]any{}
	for decoder.More() {
		token, err := decoder.Token()
		if err != nil {
			return nil, syntax(err)
		}
		name, isName := token.(string)
		if !isName {
			return nil, wrong("", "is not JSON: a name in quotes is missing")
		}
		at := join(path, name)
		if _, twice := object[name]; twice {
			return nil, wrong(at, "stands twice")
		}
		value, failed := readValue(decoder, at, depth+1)
		if failed != nil {
			return nil, failed
		}
		object[name] = value
	}
	_, err := decoder.Token()
	return object, syntax(err)
}

func readList(decoder *json.Decoder, path string, depth int) (any, *Error) {
	list := []any{}
	for decoder.More() {
		value, failed := readValue(decoder, path+"["+strconv.Itoa(len(list))+"]", depth+1)
		if failed != nil {
			return nil, failed
		}
		list = append(list, value)
	}
	_, err := decoder.Token()
	return list, syntax(err)
}

func syntax(err error) *Error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return wrong("", "ends too early: it was cut short")
	}
	return wrong("", "is not JSON: %v", err)
}

// longestName is how much of a name a path tells, in characters.
const longestName = 60

// join adds a name to a path. One that holds what cannot be seen, such as a mark that turns the direction of writing, is
// quoted.
func join(path, name string) string {
	if runes := []rune(name); len(runes) > longestName {
		name = string(runes[:longestName]) + "…"
	}
	if strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
		name = strconv.Quote(name)
	}
	if path == "" {
		return name
	}
	return path + "." + name
}

// kind names the type of a value.
func kind(value any) string {
	switch value.(type) {
	case nil:
		return "null"
	case bool:
		return "true or false"
	case string:
		return "text"
	case json.Number:
		return "a number"
	case []any:
		return "a list"
	}
	return "an object"
}

// member gives a member of an object; ok is false where it is not there.
func (n node) member(name string) (found node, ok bool, failed *Error) {
	object, isObject := n.value.(map[string]any)
	if !isObject {
		return node{}, false, wrong(n.where(), "must be an object, not %s", kind(n.value))
	}
	value, ok := object[name]
	return node{join(n.path, name), value}, ok, nil
}

// need gives the value at a path of names, all of which must be there.
func (n node) need(names ...string) (node, *Error) {
	for _, name := range names {
		next, ok, failed := n.member(name)
		if failed != nil {
			return node{}, failed
		}
		if !ok {
			return node{}, wrong(next.path, "is missing")
		}
		n = next
	}
	return n, nil
}

func (n node) where() string {
	if n.path == "" {
		return "1:1"
	}
	return n.path
}

func (n node) text() (string, *Error) {
	text, ok := n.value.(string)
	if !ok {
		return "", wrong(n.where(), "must be text, not %s", kind(n.value))
	}
	return text, nil
}

func (n node) list() ([]node, *Error) {
	list, ok := n.value.([]any)
	if !ok {
		return nil, wrong(n.where(), "must be a list, not %s", kind(n.value))
	}
	nodes := make([]node, len(list))
	for i, value := range list {
		nodes[i] = node{fmt.Sprintf("%s[%d]", n.path, i), value}
	}
	return nodes, nil
}

// number gives a number between two bounds.
func (n node) number(least, most float64) (float64, *Error) {
	written, ok := n.value.(json.Number)
	if !ok {
		return 0, wrong(n.where(), "must be a number, not %s", kind(n.value))
	}
	v, err := written.Float64()
	if err != nil || !(v >= least && v <= most) {
		return 0, wrong(n.where(), "%.20s is not between %v and %v", written, least, most)
	}
	return v, nil
}
