package strictyaml

import (
	"strings"

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
	if words, ok := r.opts.Words[field.FullName()]; ok {
		return words
	}
	return Words(field.Enum())
}

// form says how to write the field, without limits.
func (r *reader) form(field protoreflect.FieldDescriptor) string {
	if hint, ok := r.opts.Hints[field.FullName()]; ok {
		return hint
	}
	option := fileOption(field)
	switch {
	case isDuration(field):
		return "write a span of time like 30m, 1h30m or 28d"
	case field.Message() != nil && field.IsList():
		return "begin each entry of the list with a hyphen"
	case field.Message() != nil:
		return "write its keys below it: " + strings.Join(r.table(field.Message()).words, ", ")
	case option.GetUnit() != "":
		return "write a number with its unit, like " + example(option.GetUnit())
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
