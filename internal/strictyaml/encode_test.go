package strictyaml_test

import (
	"math"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// TestEncodeRoundTrip: whatever bike can be declared, writing it and reading it back gives the same bike.
func TestEncodeRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		facts := &pb.BikeFacts{}
		fill(t, facts.ProtoReflect())
		facts.Title = rapid.StringMatching(`[a-zA-Z0-9:#&*!|>'"%@{}\[\],?~ -]{1,30}`).Draw(t, "title")
		text, err := strictyaml.Encode(facts, bikeOptions())
		if err != nil {
			t.Fatal(err)
		}
		back := &pb.BikeFacts{}
		if _, problems := strictyaml.Decode("bike.yaml", text, back, bikeOptions()); len(problems) > 0 {
			t.Fatalf("%s\n%s", text, strictyaml.Format(problems))
		}
		if !proto.Equal(facts, back) {
			t.Fatalf("wrote\n%s\nhad  %s\nread %s", text, protojson.Format(facts), protojson.Format(back))
		}
	})
}

// fill sets about half of the fields to values within every limit.
func fill(t *rapid.T, m protoreflect.Message) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		required := field.FullName() == "gritward.v1.Light.end"
		if !required && !rapid.Bool().Draw(t, string(field.Name())) {
			continue
		}
		switch {
		case field.IsList():
			for range rapid.IntRange(0, 3).Draw(t, "entries") {
				fill(t, m.Mutable(field).List().AppendMutable().Message())
			}
		case field.Kind() == protoreflect.MessageKind:
			fill(t, m.Mutable(field).Message())
		default:
			m.Set(field, leaf(t, field))
		}
	}
}

func leaf(t *rapid.T, field protoreflect.FieldDescriptor) protoreflect.Value {
	switch field.Kind() {
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(rapid.Bool().Draw(t, "bool"))
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(1, field.Enum().Values().Len()-1).Draw(t, "enum")))
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(rapid.Int32Range(1, 14).Draw(t, "int"))
	case protoreflect.DoubleKind:
		low, high := 1.0, 5.0
		if field.Name() == "width_mm" {
			low, high = 15, 120
		}
		return protoreflect.ValueOfFloat64(math.Round(rapid.Float64Range(low, high).Draw(t, "number")*1000) / 1000)
	default:
		if field.Name()[max(0, len(field.Name())-3):] == "_on" {
			return protoreflect.ValueOfString("2026-11-07")
		}
		return protoreflect.ValueOfString(rapid.StringMatching(`[a-zäé0-9:# -]{1,20}`).Draw(t, "text"))
	}
}

func TestEncodeRefuses(t *testing.T) {
	if _, err := strictyaml.Encode(&pb.Guards{Front: &pb.Guard{Kind: 99}}, bikeOptions()); err == nil {
		t.Error("an enum value without a name was written")
	}
}
