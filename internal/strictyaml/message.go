package strictyaml

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	yaml "go.yaml.in/yaml/v4"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// message reads a group of keys.
func (r *reader) message(into protoreflect.Message, node *yaml.Node, path string) {
	t := r.table(into.Descriptor())
	if !r.isKeys(node, path, t.words) {
		return
	}
	seen := map[string]int{}
	for i := 0; i+1 < len(node.Content); i += 2 {
		key, value := node.Content[i], node.Content[i+1]
		if key.Kind != yaml.ScalarNode || strange(key) {
			if !strange(key) {
				r.report.node(key, path, "a key must be a single word", didYouMean("", t.words))
			}
			r.report.blame(path) // what is under the key may be what is missing elsewhere
			continue
		}
		if first, ok := seen[key.Value]; ok {
			r.report.node(key, join(path, safe(key.Value)), fmt.Sprintf("%s is written twice; the first is on line %d", show(key.Value), first), "keep one of the two")
			continue
		}
		seen[key.Value] = key.Line
		r.entry(into, t, node, key, value, path)
	}
	r.required(into.Descriptor(), seen, node, path)
}

// required reports the keys that Options say must be written, where they are not.
func (r *reader) required(message protoreflect.MessageDescriptor, seen map[string]int, node *yaml.Node, path string) {
	for i := range message.Fields().Len() {
		field := message.Fields().Get(i)
		if key := keyOf(field, r.opts); r.opts.Required[field.FullName()] && seen[key] == 0 && !r.report.blamed(join(path, key)) {
			r.report.node(node, join(path, key), key+" is missing", r.howTo(field))
		}
	}
}

// isKeys tells whether a node is a group of keys, and reports it where it is not.
func (r *reader) isKeys(node *yaml.Node, path string, words []string) bool {
	hint := "write its keys below it, indented: " + strings.Join(words, ", ")
	if path == "" {
		hint = "begin with the keys of a " + r.opts.What + " file: " + strings.Join(words, ", ")
	}
	switch {
	case strange(node):
		r.report.blame(path)
		return false
	case node.Kind == yaml.MappingNode:
		return true
	case isNull(node) && path == "":
		r.report.node(node, path, "the file is empty", hint)
	case isNull(node):
		r.report.node(node, path, lastKey(path)+" has nothing below it", hint)
	case path == "":
		r.report.node(node, path, "the file is "+kindWords(node)+", not keys with values", hint)
	default:
		r.report.node(node, path, lastKey(path)+" takes keys of its own, not "+kindWords(node), hint)
	}
	return false
}

// entry reads one key with its value.
func (r *reader) entry(into protoreflect.Message, t *table, parent, key, value *yaml.Node, path string) {
	at := join(path, key.Value)
	if oneof := t.choices[key.Value]; oneof != nil {
		r.positions.put(at, key, value)
		r.choose(into, oneof, parent, value, at)
		return
	}
	field := t.fields[key.Value]
	if field == nil {
		r.unknown(into.Descriptor(), t, key, path)
		return
	}
	r.positions.put(at, key, value)
	if oneof := field.ContainingOneof(); oneof != nil && !oneof.IsSynthetic() && into.WhichOneof(oneof) != nil {
		r.report.node(key, at, show(key.Value)+" cannot stand beside "+keyOf(into.WhichOneof(oneof), r.opts), "keep one of the two")
		return
	}
	r.field(into, field, value, at)
}

// unknown reports a key that the message does not have.
func (r *reader) unknown(message protoreflect.MessageDescriptor, t *table, key *yaml.Node, path string) {
	hint := didYouMean(key.Value, t.words)
	if above := r.above(t, key.Value); above != "" {
		hint = safe(key.Value) + " stands below " + above + "; " + hint
	}
	if owner := r.elsewhere(message, key.Value); owner != "" {
		hint = safe(key.Value) + " belongs to " + owner + "; " + hint
	}
	r.report.node(key, join(path, safe(key.Value)), "unknown key "+show(key.Value), hint)
	if near := nearest(key.Value, t.words); near != "" {
		r.report.blame(join(path, near))
	}
}

// field reads the value of a field.
func (r *reader) field(into protoreflect.Message, field protoreflect.FieldDescriptor, node *yaml.Node, path string) {
	switch {
	case strange(node):
		r.report.blame(path)
	case field.IsList():
		r.list(into.Mutable(field).List(), field, node, path)
	case field.Message() != nil && !isDuration(field):
		r.message(into.Mutable(field).Message(), node, path)
	default:
		if value, ok := r.scalar(field, node, path); ok {
			into.Set(field, value)
		}
	}
}

// list reads a repeated field: a list, or one plain value as a list of one.
func (r *reader) list(into protoreflect.List, field protoreflect.FieldDescriptor, node *yaml.Node, path string) {
	plain := field.Message() == nil || isDuration(field)
	items := node.Content
	switch {
	case isNull(node):
		r.report.node(node, path, lastKey(path)+" has nothing below it", "begin each entry of the list with a hyphen")
		return
	case node.Kind == yaml.ScalarNode && plain:
		items = []*yaml.Node{node}
	case node.Kind != yaml.SequenceNode:
		r.report.node(node, path, lastKey(path)+" is a list, not "+kindWords(node), "begin each entry of the list with a hyphen")
		return
	}
	for i, item := range items {
		at := fmt.Sprintf("%s[%d]", path, i)
		r.positions.put(at, item, item)
		switch {
		case strange(item):
			r.report.blame(at)
		case plain:
			if value, ok := r.scalar(field, item, at); ok {
				into.Append(value)
			} else {
				into.Append(into.NewElement()) // so that the indices of those after it stay true
			}
		default:
			r.message(into.AppendMutable().Message(), item, at)
		}
	}
}

// isNull tells whether nothing is written.
func isNull(node *yaml.Node) bool { return node.Kind == yaml.ScalarNode && node.Tag == "!!null" }

// kindWords says what a node is.
func kindWords(node *yaml.Node) string {
	switch node.Kind {
	case yaml.MappingNode:
		return "a group of keys"
	case yaml.SequenceNode:
		return "a list"
	default:
		return show(node.Value)
	}
}

// lastKey is the last key of a path, without indices.
func lastKey(path string) string {
	if i := strings.LastIndexByte(path, '.'); i >= 0 {
		path = path[i+1:]
	}
	if i := strings.IndexByte(path, '['); i >= 0 {
		return "an entry of " + path[:i]
	}
	return path
}

// show quotes text of the file so that it fits a message.
func show(text string) string { return `"` + safe(text) + `"` }

// safe cuts text of the file to a length that fits a message and blanks what would not show.
func safe(text string) string {
	runes := []rune(text)
	if len(runes) > 40 {
		runes = append(slices.Clip(runes[:40]), []rune(excerptCut)...)
	}
	for i, c := range runes {
		if c == '\n' || c == '\t' {
			runes[i] = ' '
		} else if refused(c) != "" {
			runes[i] = unicode.ReplacementChar
		}
	}
	return string(runes)
}
