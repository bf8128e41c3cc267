package policy

import (
	"math"
	"slices"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	pb "gritward/proto/gritward/v1"
)

// hides tells whether a bike that meets a rule meets another one of the same check too, whenever that applies, at no
// less a cost. valid is how long a declaration counts where a rule does not say.
func hides(strict, mild *pb.Rule, valid *durationpb.Duration) bool {
	if strict.GetCheck() != mild.GetCheck() || strict.GetOtherwise() < mild.GetOtherwise() || !covers(strict, mild) {
		return false
	}
	if strict.GetCheck() == pb.Check_DECLARATION {
		return age(strict, valid) <= age(mild, valid)
	}
	oneof := strict.ProtoReflect().Descriptor().Oneofs().ByName("need")
	a, b := strict.ProtoReflect().WhichOneof(oneof), mild.ProtoReflect().WhichOneof(oneof)
	if a == nil || a != b {
		return false
	}
	if a.Message() == nil {
		return strict.GetExpression() == mild.GetExpression()
	}
	return implies(strict.ProtoReflect().Get(a).Message(), mild.ProtoReflect().Get(a).Message())
}

func age(rule *pb.Rule, valid *durationpb.Duration) int64 {
	if own := rule.GetDeclaration().GetValid(); own != nil {
		return own.GetSeconds()
	}
	return valid.GetSeconds()
}

// implies tells whether limits ask for all that others of the same kind ask for. Each field is compared alone, which is
// right because each limit only ever asks for more.
func implies(strict, mild protoreflect.Message) bool {
	fields := strict.Descriptor().Fields()
	for i := range fields.Len() {
		if !impliesField(fields.Get(i), strict, mild) {
			return false
		}
	}
	return true
}

func impliesField(field protoreflect.FieldDescriptor, strict, mild protoreflect.Message) bool {
	if field.Name() == "which" {
		return impliesWhich(strict.Get(field).List(), mild.Get(field).List())
	}
	if !mild.Has(field) {
		return true
	}
	if !strict.Has(field) {
		return false
	}
	a, b := strict.Get(field), mild.Get(field)
	switch {
	case field.Name() == "wear":
		return impliesWear(strict.Interface().(*pb.ChainNeed).GetWear(), mild.Interface().(*pb.ChainNeed).GetWear())
	case field.IsList(): // words that will do: fewer are stricter
		return subset(a.List(), b.List())
	case field.Message() != nil: // a span of time, at most so long ago
		return seconds(a) <= seconds(b)
	case field.Kind() == protoreflect.BoolKind:
		return true // both ask
	case field.Kind() == protoreflect.EnumKind:
		if lessIsStricter(field) {
			return a.Enum() <= b.Enum()
		}
		return a.Enum() >= b.Enum()
	case field.Kind() == protoreflect.Int32Kind:
		return a.Int() >= b.Int()
	case lessIsStricter(field):
		return a.Float() <= b.Float()
	default:
		return a.Float() >= b.Float()
	}
}

// lessIsStricter tells of the limits that are not a least amount.
func lessIsStricter(field protoreflect.FieldDescriptor) bool {
	return slices.Contains([]protoreflect.Name{"flashes_max", "width_max_rim_mm", "tread", "cuts"}, field.Name())
}

func seconds(span protoreflect.Value) int64 {
	return span.Message().Interface().(*durationpb.Duration).GetSeconds()
}

// impliesWhich compares the places looked at; none named is all of them.
func impliesWhich(strict, mild protoreflect.List) bool {
	return strict.Len() == 0 || mild.Len() > 0 && subset(mild, strict)
}

func subset(inner, outer protoreflect.List) bool {
	for i := range inner.Len() {
		found := false
		for j := range outer.Len() {
			found = found || inner.Get(i).Enum() == outer.Get(j).Enum()
		}
		if !found {
			return false
		}
	}
	return true
}

// impliesWear compares the limits of a chain's wear at every number of sprockets.
func impliesWear(strict, mild []*pb.ChainWearLimit) bool {
	for speeds := int32(1); speeds <= 14; speeds++ {
		if wearAt(strict, speeds) > wearAt(mild, speeds) {
			return false
		}
	}
	return true
}

// wearAt is the limit for a number of sprockets, %: that of the greatest speeds_from not above it.
func wearAt(limits []*pb.ChainWearLimit, speeds int32) float64 {
	from, pct := int32(0), math.Inf(1)
	for _, limit := range limits {
		if limit.GetSpeedsFrom() <= speeds && limit.GetSpeedsFrom() >= from {
			from, pct = limit.GetSpeedsFrom(), limit.GetPct()
		}
	}
	return pct
}
