package expression

import (
	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"cel.dev/cel-go/common/cost"
	"cel.dev/cel-go/common/types"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

// MaxCost is the most that one evaluation may cost, in the language's units: about one for each operator, field and
// turn of a loop. Two loops over all lamps in one another fit; three do not. BenchmarkMaxCost tells how long it takes.
const MaxCost = 5_000

// Lengths taken for what the protocol does not limit: pieces of light and points of a group's plan, of which there is
// one about every five kilometres and one at every stop; texts.
const (
	usualItems = 300
	usualText  = 500
	dateText   = len("2026-12-13")
)

// sizes gives the greatest sizes of fields, from their limits in the protocol.
type sizes struct{}

func (sizes) EstimateCallCost(string, string, *cost.AstNode, []cost.AstNode) *cost.CallEstimate {
	return nil
}

func (sizes) EstimateSize(node cost.AstNode) *cost.SizeEstimate {
	field, item := fieldAt(node.Path())
	switch {
	case node.Type().Kind() == types.OpaqueKind: // a word of an enum, which is a number
		return &cost.SizeEstimate{Min: 1, Max: 1}
	case field == nil:
		return nil
	case field.IsList() && !item:
		return &cost.SizeEstimate{Max: uint64(maxItems(field))}
	case field.Kind() == protoreflect.StringKind:
		return &cost.SizeEstimate{Max: uint64(maxText(field))}
	default:
		return nil
	}
}

// fieldAt follows a path from bike or group: "bike", "lights", "@items", "standard". item tells whether it ends at an
// entry of the list that is the field.
func fieldAt(path []string) (field protoreflect.FieldDescriptor, item bool) {
	if len(path) < 2 {
		return nil, false
	}
	message := rootOf(path[0])
	for _, name := range path[1:] {
		if item = name == "@items"; item {
			continue
		}
		if message == nil {
			return nil, false
		}
		if field = message.Fields().ByName(protoreflect.Name(name)); field == nil {
			return nil, false
		}
		message = field.Message()
	}
	return field, item
}

// rootOf is the message that a variable holds; nil for one that holds none.
func rootOf(variable string) protoreflect.MessageDescriptor {
	switch variable {
	case "bike":
		return (&pb.BikeFacts{}).ProtoReflect().Descriptor()
	case "group":
		return (&pb.GroupPlan{}).ProtoReflect().Descriptor()
	default:
		return nil
	}
}

func maxItems(field protoreflect.FieldDescriptor) int {
	limits, _ := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
	switch most := limits.GetRepeated().GetMaxItems(); {
	case most > 0:
		return int(most)
	case field.Enum() != nil:
		return field.Enum().Values().Len()
	default:
		return usualItems
	}
}

func maxText(field protoreflect.FieldDescriptor) int {
	limits, _ := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
	switch {
	case fileOption(field).GetDate():
		return dateText
	case limits.GetString().GetMaxLen() > 0:
		return int(limits.GetString().GetMaxLen())
	default:
		return usualText
	}
}
