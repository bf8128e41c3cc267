package strictyaml

import (
	"bytes"
	"fmt"

	yaml "go.yaml.in/yaml/v4"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
)

// Encode writes a message as Decode reads it, its keys in the order of the fields, those left out that are not set. The
// sibling key of a Choice is a field of its own and must be set beforehand. The error says what no file can hold: a
// value of an enum that has no name, a span of time that is not of whole seconds.
func Encode(m proto.Message, opts Options) ([]byte, error) {
	root, err := encodeMessage(m.ProtoReflect(), opts)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	dumper, err := yaml.NewDumper(&out)
	if err != nil {
		return nil, fmt.Errorf("writing YAML: %w", err)
	}
	if err := dumper.Dump(root); err != nil {
		return nil, fmt.Errorf("writing YAML: %w", err)
	}
	if err := dumper.Close(); err != nil {
		return nil, fmt.Errorf("writing YAML: %w", err)
	}
	return out.Bytes(), nil
}

func encodeMessage(m protoreflect.Message, opts Options) (*yaml.Node, error) {
	node := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
	for i := range m.Descriptor().Fields().Len() {
		field := m.Descriptor().Fields().Get(i)
		if !m.Has(field) {
			continue
		}
		value, err := encodeField(field, m.Get(field), opts)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", keyOf(field, opts), err)
		}
		node.Content = append(node.Content, plain(keyOf(field, opts), "!!str"), value)
	}
	if len(node.Content) == 0 {
		node.Style = yaml.FlowStyle
	}
	return node, nil
}

func encodeField(field protoreflect.FieldDescriptor, value protoreflect.Value, opts Options) (*yaml.Node, error) {
	if !field.IsList() {
		return encodeValue(field, value, opts)
	}
	node := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq"}
	for i := range value.List().Len() {
		item, err := encodeValue(field, value.List().Get(i), opts)
		if err != nil {
			return nil, err
		}
		node.Content = append(node.Content, item)
	}
	return node, nil
}

func encodeValue(field protoreflect.FieldDescriptor, value protoreflect.Value, opts Options) (*yaml.Node, error) {
	switch field.Kind() {
	case protoreflect.MessageKind:
		span, ok := value.Message().Interface().(*durationpb.Duration)
		if !ok {
			return encodeMessage(value.Message(), opts)
		}
		if span.GetNanos() != 0 || span.GetSeconds() < 0 {
			return nil, fmt.Errorf("%s is not a span of whole seconds", span.AsDuration())
		}
		return plain(formatSpan(span.GetSeconds()), "!!str"), nil
	case protoreflect.EnumKind:
		named := field.Enum().Values().ByNumber(value.Enum())
		if named == nil || named.Number() == 0 {
			return nil, fmt.Errorf("%d is no value of this", value.Enum())
		}
		return plain(Word(named), "!!str"), nil
	case protoreflect.StringKind:
		return plain(value.String(), "!!str"), nil
	case protoreflect.BoolKind:
		return plain(value.String(), "!!bool"), nil
	case protoreflect.DoubleKind, protoreflect.FloatKind:
		unit := fileOption(field).GetUnit()
		if unit != "" {
			return plain(formatNumber(value.Float(), unit), "!!str"), nil
		}
		return plain(formatNumber(value.Float(), ""), "!!float"), nil
	default:
		return plain(value.String(), "!!int"), nil
	}
}

// plain is a value; the writer quotes text that would be read as something else.
func plain(text, tag string) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: tag, Value: text}
}
