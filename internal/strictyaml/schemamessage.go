package strictyaml

import (
	"slices"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"
)

// schemaWriter is the state of one Schema.
type schemaWriter struct {
	opts     Options
	describe func(protoreflect.Descriptor) string
	patterns map[protoreflect.FullName]string
	defs     *members
	seen     map[protoreflect.FullName]bool
}

// message is the schema of a group of keys.
func (w *schemaWriter) message(message protoreflect.MessageDescriptor) *schema {
	no := false
	s := &schema{Description: w.describe(message), Type: "object", Properties: &members{}, AdditionalProperties: &no}
	if asksSomething(message) {
		s.MinProperties = 1
	}
	chosenYet := map[protoreflect.FullName]bool{}
	for i := range message.Fields().Len() {
		field := message.Fields().Get(i)
		oneof := chosen(field, w.opts)
		switch {
		case oneof == nil:
			s.Properties.add(keyOf(field, w.opts), w.field(field))
			if w.mustBeWritten(field) {
				s.Required = append(s.Required, keyOf(field, w.opts))
			}
		case !chosenYet[oneof.FullName()]:
			chosenYet[oneof.FullName()] = true
			s.Properties.add(string(oneof.Name()), &schema{Description: w.describe(oneof)})
			s.AllOf = append(s.AllOf, w.choice(oneof)...)
		}
	}
	return s
}

// choice says for each word of the sibling key what the key of the oneof takes.
func (w *schemaWriter) choice(oneof protoreflect.OneofDescriptor) []*schema {
	choice := w.opts.Choices[oneof.FullName()]
	var cases []*schema
	for i := range oneof.Fields().Len() {
		field := oneof.Fields().Get(i)
		for _, word := range sortedKeys(choice.Fields) {
			if choice.Fields[word] != field.Name() {
				continue
			}
			is, then := &members{}, &members{}
			is.add(choice.By, &schema{Const: word})
			then.add(string(oneof.Name()), w.field(field))
			result := &schema{Properties: then}
			if !w.mayBeEmpty(field) {
				result.Required = []string{string(oneof.Name())}
			}
			cases = append(cases, &schema{If: &schema{Properties: is, Required: []string{choice.By}}, Then: result})
		}
	}
	return cases
}

func sortedKeys(fields map[string]protoreflect.Name) []string {
	var words []string
	for word := range fields {
		words = append(words, word)
	}
	slices.Sort(words)
	return words
}

// mayBeEmpty tells whether the limits that a field of a choice holds may be left out: where none of them must be there.
func (w *schemaWriter) mayBeEmpty(field protoreflect.FieldDescriptor) bool {
	return field.Message() != nil && !asksSomething(field.Message())
}

// asksSomething tells whether a message with nothing in it breaks a rule that the message states about itself.
func asksSomething(message protoreflect.MessageDescriptor) bool {
	rules, err := protovalidate.ResolveMessageRules(message)
	if err != nil || rules == nil || len(rules.GetCel()) == 0 {
		return false
	}
	for i := range message.Fields().Len() {
		if zeroBreaks(message.Fields().Get(i)) {
			return false // then keys are required already
		}
	}
	return protovalidate.Validate(dynamicpb.NewMessage(message)) != nil
}

// mustBeWritten tells whether a file must have the field's key.
func (w *schemaWriter) mustBeWritten(field protoreflect.FieldDescriptor) bool {
	return w.opts.Required[field.FullName()] || zeroBreaks(field)
}

// zeroBreaks tells whether a message without the field breaks a rule of the field.
func zeroBreaks(field protoreflect.FieldDescriptor) bool {
	rules, err := protovalidate.ResolveFieldRules(field)
	if err != nil || rules == nil {
		return false
	}
	if field.HasPresence() {
		return rules.GetRequired()
	}
	empty := dynamicpb.NewMessage(field.ContainingMessage())
	only := protovalidate.WithFilter(protovalidate.FilterFunc(func(_ protoreflect.Message, d protoreflect.Descriptor) bool {
		return d.FullName() == field.FullName()
	}))
	return protovalidate.Validate(empty, only) != nil
}

// ref is a reference to a message's schema, which it adds where it is not there yet.
func (w *schemaWriter) ref(message protoreflect.MessageDescriptor) string {
	name := strings.TrimPrefix(string(message.FullName()), string(message.ParentFile().Package())+".")
	if !w.seen[message.FullName()] {
		w.seen[message.FullName()] = true
		at := len(w.defs.names)
		w.defs.add(name, nil)
		w.defs.schemas[at] = w.message(message)
	}
	return "#/$defs/" + name
}
