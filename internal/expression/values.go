package expression

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// maxValues is how many values are told.
const maxValues = 5

// Values tells, for a person, the values of the fields that the expression names of bike and group themselves, in the
// order in which it names them, as a bike file calls them: "tyres.front.width is 25mm". At most five; of lists the length.
func (p *Program) Values(facts *pb.BikeFacts, group *pb.GroupPlan) []string {
	var told []string
	for _, f := range p.facts[:min(len(p.facts), maxValues)] {
		m := facts.ProtoReflect()
		missing := "is not declared"
		if f.root == "group" {
			m, missing = group.ProtoReflect(), "is not known"
		}
		last := len(f.fields) - 1
		for _, field := range f.fields[:last] {
			m = m.Get(field).Message()
		}
		if text := valueText(m, f.fields[last]); text != "" {
			if option := fileOption(f.fields[last]); f.root == "bike" && option.GetUnit() != "" {
				text += option.GetUnit()
			}
			told = append(told, f.file+" "+text)
		} else {
			told = append(told, f.file+" "+missing)
		}
	}
	return told
}

// valueText writes a field's value; "" where it has none.
func valueText(m protoreflect.Message, field protoreflect.FieldDescriptor) string {
	value := m.Get(field)
	switch {
	case field.IsList():
		return fmt.Sprintf("has %d entries", value.List().Len())
	case !m.Has(field) && (field.HasPresence() || field.Enum() != nil || field.Kind() == protoreflect.StringKind):
		return ""
	case isTimestamp(field):
		at, _ := value.Message().Interface().(*timestamppb.Timestamp)
		return "is " + at.AsTime().Format(time.RFC3339)
	case field.Enum() != nil:
		if word := field.Enum().Values().ByNumber(value.Enum()); word != nil {
			return "is " + strings.ReplaceAll(strings.ToLower(string(word.Name())), "_", "-")
		}
		return fmt.Sprintf("is %d", value.Enum())
	case field.Kind() == protoreflect.StringKind:
		return "is " + strconv.Quote(value.String())
	case field.Kind() == protoreflect.DoubleKind:
		return "is " + strconv.FormatFloat(value.Float(), 'f', -1, 64)
	default:
		return fmt.Sprintf("is %v", value.Interface())
	}
}
