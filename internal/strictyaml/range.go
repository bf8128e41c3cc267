package strictyaml

import (
	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
)

// rangeOf says in words what range a number or a span of time of the field must be in; empty where it has none.
func rangeOf(field protoreflect.FieldDescriptor) string {
	rules, err := protovalidate.ResolveFieldRules(field)
	if err != nil || rules == nil || field.IsList() {
		return ""
	}
	message := rules.ProtoReflect()
	kind := message.WhichOneof(message.Descriptor().Oneofs().ByName("type"))
	if kind == nil {
		return ""
	}
	typed := message.Get(kind).Message()
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
