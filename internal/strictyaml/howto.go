package strictyaml

import (
	"slices"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// howTo says how to write the field, with its limits.
func (r *reader) howTo(field protoreflect.FieldDescriptor) string {
	hint := r.form(field)
	if limits := rangeOf(field); limits != "" && hint != "" {
		return hint + ", " + limits
	}
	return hint
}

// words are the words to propose for an enum.
func (r *reader) words(field protoreflect.FieldDescriptor) []string {
	return wordsOf(field, r.opts)
}

// wordsOf are the words of an enum that a field takes.
func wordsOf(field protoreflect.FieldDescriptor, opts Options) []string {
	if words, ok := opts.Words[field.FullName()]; ok {
		return words
	}
	var words []string
	for i := range field.Enum().Values().Len() {
		if value := field.Enum().Values().Get(i); takes(field, value) {
			words = append(words, Word(value))
		}
	}
	return words
}

// takes tells whether a field takes a value of its enum: any but the zero value, and where the field lists those that it
// takes, one of them.
func takes(field protoreflect.FieldDescriptor, value protoreflect.EnumValueDescriptor) bool {
	if value.Number() == 0 {
		return false
	}
	rules, err := protovalidate.ResolveFieldRules(field)
	if err != nil || rules == nil || field.IsList() {
		return true
	}
	in := rules.GetEnum().GetIn()
	return len(in) == 0 || slices.Contains(in, int32(value.Number()))
}

// form says how to write the field, without limits.
func (r *reader) form(field protoreflect.FieldDescriptor) string {
	if hint, ok := r.opts.Hints[field.FullName()]; ok {
		return hint
	}
	option := fileOption(field)
	switch {
	case isDuration(field):
		return "write a span of time like " + exampleSpan(field)
	case field.Message() != nil && field.IsList():
		return "begin each entry of the list with a hyphen"
	case field.Message() != nil:
		return "write its keys below it: " + strings.Join(r.table(field.Message()).words, ", ")
	case option.GetUnit() != "":
		return "write a number with its unit, like " + example(field, option.GetUnit())
	case option.GetDate():
		return "write a date of the calendar like 2026-12-13"
	}
	switch field.Kind() {
	case protoreflect.EnumKind:
		return "write one of: " + strings.Join(r.words(field), ", ")
	case protoreflect.BoolKind:
		return "write true or false, without quotes"
	case protoreflect.StringKind:
		return "write text"
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		return "write a whole number, without quotes"
	default:
		return "write a number with a point for the decimals, without quotes"
	}
}
