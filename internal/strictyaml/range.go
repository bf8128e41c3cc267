package strictyaml

import (
	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
)

// rangeOf says in words what range a number or a span of time of the field must be in; empty where it has none.
func rangeOf(field protoreflect.FieldDescriptor) string {
	typed := typedRules(field)
	if typed == nil {
		return ""
	}
	limit := func(name protoreflect.Name) string { return bound(typed, name, fileOption(field).GetUnit()) }
	low, above, high, below := limit("gte"), limit("gt"), limit("lte"), limit("lt")
	switch {
	case low != "" && high != "":
		return "from " + low + " to " + high
	case above != "" && high != "":
		return "above " + above + ", up to " + high
	case low != "" && below != "":
		return "from " + low + ", below " + below
	case low != "":
		return low + " or more"
	case high != "":
		return high + " or less"
	default:
		return ""
	}
}

// typedRules are the rules for the kind of a field that is not a list; nil where it has none.
func typedRules(field protoreflect.FieldDescriptor) protoreflect.Message {
	rules, err := protovalidate.ResolveFieldRules(field)
	if err != nil || rules == nil || field.IsList() {
		return nil
	}
	return ofKind(rules)
}

// ofKind are the rules for one kind of value within the rules of a field or of the entries of a list; nil: none.
func ofKind(rules *validate.FieldRules) protoreflect.Message {
	message := rules.ProtoReflect()
	kind := message.WhichOneof(message.Descriptor().Oneofs().ByName("type"))
	if kind == nil {
		return nil
	}
	return message.Get(kind).Message()
}

// spread is the range of a number, or of a span of time in seconds, that has both ends.
func spread(field protoreflect.FieldDescriptor) (low, high float64, bounded bool) {
	typed := typedRules(field)
	if typed == nil {
		return 0, 0, false
	}
	low, lowest := amount(typed, "gte")
	if !lowest {
		low, lowest = amount(typed, "gt")
	}
	high, highest := amount(typed, "lte")
	return low, high, lowest && highest
}

// amount is one limit of a rule as a number; spans of time are in seconds.
func amount(rules protoreflect.Message, name protoreflect.Name) (float64, bool) {
	field := rules.Descriptor().Fields().ByName(name)
	if field == nil || !rules.Has(field) {
		return 0, false
	}
	switch value := rules.Get(field); field.Kind() {
	case protoreflect.DoubleKind, protoreflect.FloatKind:
		return value.Float(), true
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		return float64(value.Int()), true
	case protoreflect.MessageKind:
		span, ok := value.Message().Interface().(*durationpb.Duration)
		return float64(span.GetSeconds()), ok
	default:
		return 0, false
	}
}

// bound writes one limit of a rule as a file would; empty where the rule has none of that name.
func bound(rules protoreflect.Message, name protoreflect.Name, unit string) string {
	field := rules.Descriptor().Fields().ByName(name)
	if field == nil || !rules.Has(field) {
		return ""
	}
	switch value := rules.Get(field); field.Kind() {
	case protoreflect.DoubleKind, protoreflect.FloatKind:
		return formatNumber(value.Float(), unit)
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		return formatNumber(float64(value.Int()), unit)
	case protoreflect.MessageKind:
		span, ok := value.Message().Interface().(*durationpb.Duration)
		if !ok {
			return ""
		}
		return formatSpan(span.GetSeconds())
	default:
		return ""
	}
}
