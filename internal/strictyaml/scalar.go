package strictyaml

import (
	"strings"
	"time"

	yaml "go.yaml.in/yaml/v4"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
)

const (
	dateLayout   = "2006-01-02"
	durationName = "google.protobuf.Duration"
	quotedStyle  = yaml.SingleQuotedStyle | yaml.DoubleQuotedStyle
	blockStyle   = yaml.LiteralStyle | yaml.FoldedStyle
)

func isDuration(field protoreflect.FieldDescriptor) bool {
	return field.Message() != nil && field.Message().FullName() == durationName
}

// scalar reads one value for the field, or for one entry of it.
func (r *reader) scalar(field protoreflect.FieldDescriptor, node *yaml.Node, path string) (protoreflect.Value, bool) {
	fail := func(message string) (protoreflect.Value, bool) {
		r.report.node(node, path, message, r.howTo(field))
		return protoreflect.Value{}, false
	}
	if node.Kind != yaml.ScalarNode {
		return fail(lastKey(path) + " takes one value, not " + kindWords(node))
	}
	if isNull(node) {
		return fail(lastKey(path) + " has no value")
	}
	quoted := node.Style&quotedStyle != 0
	switch field.Kind() {
	case protoreflect.BoolKind:
		if !quoted && (node.Value == "true" || node.Value == "false") {
			return protoreflect.ValueOfBool(node.Value == "true"), true
		}
		return fail(show(node.Value) + " is not true or false")
	case protoreflect.StringKind:
		return r.stringValue(field, node, path)
	case protoreflect.EnumKind:
		return r.enumValue(field, node, path)
	case protoreflect.MessageKind:
		span, err := ParseDuration(node.Value)
		if err != nil {
			return fail(show(node.Value) + " " + err.Error())
		}
		return protoreflect.ValueOfMessage(durationpb.New(span).ProtoReflect()), true
	default:
		value, problem := number(field, node.Value, quoted)
		if problem != "" {
			return fail(problem)
		}
		return value, true
	}
}

// stringValue reads text, or a date.
func (r *reader) stringValue(field protoreflect.FieldDescriptor, node *yaml.Node, path string) (protoreflect.Value, bool) {
	text := node.Value
	if node.Style&blockStyle != 0 {
		text = strings.TrimRight(text, "\n")
	}
	if fileOption(field).GetDate() {
		if _, err := time.Parse(dateLayout, text); err != nil {
			r.report.node(node, path, show(text)+" is not a date", r.howTo(field))
			return protoreflect.Value{}, false
		}
	}
	for _, c := range text {
		if what := refused(c); what != "" {
			r.report.node(node, path, lastKey(path)+" has in it "+what, "take it out")
			return protoreflect.Value{}, false
		}
	}
	return protoreflect.ValueOfString(text), true
}

// enumValue reads a word.
func (r *reader) enumValue(field protoreflect.FieldDescriptor, node *yaml.Node, path string) (protoreflect.Value, bool) {
	values := field.Enum().Values()
	for i := range values.Len() {
		if value := values.Get(i); takes(field, value) && Word(value) == node.Value {
			return protoreflect.ValueOfEnum(value.Number()), true
		}
	}
	r.report.node(node, path, show(node.Value)+" is not a value of "+keyOf(field, r.opts), didYouMean(node.Value, r.words(field)))
	return protoreflect.Value{}, false
}
