package strictyaml

import (
	"maps"
	"slices"

	yaml "go.yaml.in/yaml/v4"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// choose reads a key that stands for a oneof: the sibling key named by the Choice says which field it means. Where the
// sibling is missing or unknown the fault is told there, and the value is left alone.
func (r *reader) choose(into protoreflect.Message, oneof protoreflect.OneofDescriptor, parent, value *yaml.Node, path string) {
	choice := r.opts.Choices[oneof.FullName()]
	for i := 0; i+1 < len(parent.Content); i += 2 {
		if parent.Content[i].Value != choice.By {
			continue
		}
		name, ok := choice.Fields[parent.Content[i+1].Value]
		if field := oneof.Fields().ByName(name); ok && field != nil {
			r.field(into, field, value, path)
		}
		return
	}
}

// elsewhere says where a key belongs that is unknown in a chosen message but known in another one of the same choice.
func (r *reader) elsewhere(message protoreflect.MessageDescriptor, key string) string {
	for _, oneofName := range slices.Sorted(maps.Keys(r.opts.Choices)) {
		choice := r.opts.Choices[oneofName]
		for _, word := range slices.Sorted(maps.Keys(choice.Fields)) {
			other := r.chosenMessage(oneofName, choice.Fields[word])
			if other == nil || other.FullName() == message.FullName() || !r.isChosen(oneofName, message) {
				continue
			}
			if r.table(other).fields[key] != nil {
				return choice.By + ": " + word
			}
		}
	}
	return ""
}

// above finds the key that stands for a oneof under which a key belongs that was written beside it.
func (r *reader) above(t *table, key string) string {
	for _, word := range slices.Sorted(maps.Keys(t.choices)) {
		fields := t.choices[word].Fields()
		for i := range fields.Len() {
			if message := fields.Get(i).Message(); message != nil && r.table(message).fields[key] != nil {
				return word
			}
		}
	}
	return ""
}

// isChosen tells whether the message is one of those that the oneof chooses between.
func (r *reader) isChosen(oneof protoreflect.FullName, message protoreflect.MessageDescriptor) bool {
	for _, name := range r.opts.Choices[oneof].Fields {
		if m := r.chosenMessage(oneof, name); m != nil && m.FullName() == message.FullName() {
			return true
		}
	}
	return false
}

// chosenMessage finds the message of a field of a oneof among those met so far.
func (r *reader) chosenMessage(oneof protoreflect.FullName, field protoreflect.Name) protoreflect.MessageDescriptor {
	t := r.tables[oneof.Parent()]
	if t == nil || t.choices[string(oneof.Name())] == nil {
		return nil
	}
	if fd := t.choices[string(oneof.Name())].Fields().ByName(field); fd != nil {
		return fd.Message()
	}
	return nil
}
