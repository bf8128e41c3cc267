package strictyaml

import (
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

// table is the keys of a message, in the order of its fields.
type table struct {
	words   []string
	fields  map[string]protoreflect.FieldDescriptor
	choices map[string]protoreflect.OneofDescriptor
}

// tableKey names a table. Messages of one kind share it.
type tableKey = protoreflect.FullName

func (r *reader) table(message protoreflect.MessageDescriptor) *table {
	if t := r.tables[message.FullName()]; t != nil {
		return t
	}
	t := makeTable(message, r.opts)
	r.tables[message.FullName()] = t
	return t
}

func makeTable(message protoreflect.MessageDescriptor, opts Options) *table {
	t := &table{fields: map[string]protoreflect.FieldDescriptor{}, choices: map[string]protoreflect.OneofDescriptor{}}
	for i := range message.Fields().Len() {
		field := message.Fields().Get(i)
		key := keyOf(field, opts)
		if oneof := chosen(field, opts); oneof == nil {
			t.fields[key] = field
		} else if t.choices[key] != nil {
			continue
		} else {
			t.choices[key] = oneof
		}
		t.words = append(t.words, key)
	}
	return t
}

// chosen gives the oneof that stands for the field in a file, if one does.
func chosen(field protoreflect.FieldDescriptor, opts Options) protoreflect.OneofDescriptor {
	oneof := field.ContainingOneof()
	if oneof == nil {
		return nil
	}
	if _, ok := opts.Choices[oneof.FullName()]; !ok {
		return nil
	}
	return oneof
}

// keyOf is the field's key in a file.
func keyOf(field protoreflect.FieldDescriptor, opts Options) string {
	if oneof := chosen(field, opts); oneof != nil {
		return string(oneof.Name())
	}
	if key := fileOption(field).GetKey(); key != "" {
		return key
	}
	return string(field.Name())
}

func fileOption(field protoreflect.FieldDescriptor) *pb.FileField {
	option, _ := proto.GetExtension(field.Options(), pb.E_File).(*pb.FileField)
	return option
}

// Word is how a file writes an enum's value: in lower case, with hyphens.
func Word(value protoreflect.EnumValueDescriptor) string {
	return strings.ReplaceAll(strings.ToLower(string(value.Name())), "_", "-")
}

// Words are the words of an enum, without its zero value, in the order of their numbers.
func Words(enum protoreflect.EnumDescriptor) []string {
	var words []string
	for i := range enum.Values().Len() {
		if value := enum.Values().Get(i); value.Number() != 0 {
			words = append(words, Word(value))
		}
	}
	return words
}
