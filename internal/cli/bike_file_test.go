package cli_test

import (
	"fmt"
	"strings"
	"testing"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/testing/protocmp"
	"pgregory.net/rapid"

	"gritward/internal/cli"
	pb "gritward/proto/gritward/v1"
)

// TestExampleBike: the example is read without complaint, and shows every key there is.
func TestExampleBike(t *testing.T) {
	facts, problems := cli.ReadBike("example", []byte(cli.ExampleBike))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	var missing []string
	collect(facts.ProtoReflect().Descriptor(), func(field protoreflect.FieldDescriptor, key string) {
		if !strings.Contains(cli.ExampleBike, key+":") {
			missing = append(missing, string(field.FullName()))
		}
	})
	if len(missing) > 0 {
		t.Errorf("the example does not show %v", missing)
	}
}

func collect(message protoreflect.MessageDescriptor, tell func(protoreflect.FieldDescriptor, string)) {
	for i := range message.Fields().Len() {
		field := message.Fields().Get(i)
		key := string(field.Name())
		if option, ok := proto.GetExtension(field.Options(), pb.E_File).(*pb.FileField); ok && option.GetKey() != "" {
			key = option.GetKey()
		}
		tell(field, key)
		if field.Message() != nil {
			collect(field.Message(), tell)
		}
	}
}

// TestBikeFileRoundTrip: whatever can be certified, "bike show" prints as a file that certifies the same.
func TestBikeFileRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := &pb.BikeFacts{}
		fill(t, want.ProtoReflect(), "")
		if want.Title == "" {
			want.Title = "x"
		}
		text := cli.BikeFile(want)
		got, problems := cli.ReadBike("b", []byte(text))
		if len(problems) > 0 {
			t.Fatalf("%v\n%s", problems, text)
		}
		if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
			t.Fatalf("%s\n%s", diff, text)
		}
	})
}

// fill gives every field a value within its limits, or leaves it out.
func fill(t *rapid.T, message protoreflect.Message, path string) {
	fields := message.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		label := path + "." + string(field.Name())
		required := field.FullName() == "gritward.v1.Light.end"
		if !required && !rapid.Bool().Draw(t, "has"+label) {
			continue
		}
		switch {
		case field.IsList():
			list := message.Mutable(field).List()
			for n := range rapid.IntRange(0, 3).Draw(t, label) {
				fill(t, list.AppendMutable().Message(), fmt.Sprintf("%s[%d]", label, n))
			}
			if list.Len() == 0 {
				message.Clear(field)
			}
		case field.Message() != nil:
			inner := message.NewField(field)
			fill(t, inner.Message(), label)
			if proto.Size(inner.Message().Interface()) > 0 { // a part that says nothing is not written
				message.Set(field, inner)
			}
		default:
			message.Set(field, scalar(t, field, label))
		}
	}
}

func scalar(t *rapid.T, field protoreflect.FieldDescriptor, label string) protoreflect.Value {
	rules, _ := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
	option, _ := proto.GetExtension(field.Options(), pb.E_File).(*pb.FileField)
	switch field.Kind() {
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(rapid.Bool().Draw(t, label))
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(1, field.Enum().Values().Len()-1).Draw(t, label)))
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(rapid.Int32Range(rules.GetInt32().GetGte(), rules.GetInt32().GetLte()).Draw(t, label))
	case protoreflect.DoubleKind:
		low, high := rules.GetDouble().GetGte(), rules.GetDouble().GetLte()
		return protoreflect.ValueOfFloat64(float64(rapid.IntRange(int(100*low), int(100*high)).Draw(t, label)) / 100)
	}
	if option.GetDate() {
		return protoreflect.ValueOfString(fmt.Sprintf("2026-%02d-%02d", rapid.IntRange(1, 12).Draw(t, label), rapid.IntRange(1, 28).Draw(t, label)))
	}
	most := int(rules.GetString().GetMaxLen())
	return protoreflect.ValueOfString(rapid.StringOfN(rapid.RuneFrom([]rune("aZ09 \"'\\:#-{}[]&*!|>%@`,?~äß中🚲<>")), 1, min(most, 40), -1).Draw(t, label))
}

func TestChangedFacts(t *testing.T) {
	read := func(text string) *pb.BikeFacts {
		facts, problems := cli.ReadBike("b", []byte("title: x\n"+text))
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		return facts
	}
	front := "brakes:\n  front: {looked_on: 2026-11-28}\n"
	tests := []struct{ name, before, now, want string }{
		{"same", front, front, "nothing: certified again"},
		{"one, by its path", front, "brakes:\n  front: {looked_on: 2026-12-05}\n", "brakes.front.looked_on: 2026-12-05"},
		{"left out", front, "", "brakes.front.looked_on left out"},
		{"of a list", "lights: [{end: rear, runtime: 1h}]\n", "lights: [{end: rear, runtime: 10h}]\n", "lights[0].runtime: 600min"},
		{"gone of a list", "lights: [{end: rear}]\n", "", "lights[0] left out; lights[0].end left out"},
		{"many", "", "guards:\n  front: {kind: fixed, reach: hub, flap: true, secure: true}\n",
			"guards.front.flap: true; guards.front.kind: fixed; guards.front.reach: hub and 1 more"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := cli.ChangedFacts(read(test.before), read(test.now)); got != test.want {
				t.Errorf("got %q, want %q", got, test.want)
			}
		})
	}
	if got := cli.ChangedFacts(nil, read(front)); got != "first declaration" {
		t.Errorf("got %q", got)
	}
}
