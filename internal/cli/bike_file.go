package cli

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

//go:embed bike_example.yaml
var exampleBike string

// readBike reads a bike file strictly.
func readBike(file string, content []byte) (*pb.BikeFacts, []*pb.Problem) {
	facts := &pb.BikeFacts{}
	_, problems := strictyaml.Decode(file, content, facts, strictyaml.Options{What: "bike"})
	return facts, problems
}

// bikeFile writes facts as a bike file that readBike reads back. The descriptor is the only schema, as it is for
// reading: keys, units and words are those of the (file) options.
func bikeFile(facts *pb.BikeFacts) string {
	var b strings.Builder
	writeFields(&b, facts.ProtoReflect(), "")
	return b.String()
}

func writeFields(b *strings.Builder, message protoreflect.Message, indent string) {
	fields := message.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		if message.Has(field) {
			writeField(b, field, message.Get(field), indent)
		}
	}
}

func writeField(b *strings.Builder, field protoreflect.FieldDescriptor, value protoreflect.Value, indent string) {
	option, key := fileOption(field), fileKey(field)
	switch {
	case field.IsList():
		fmt.Fprintf(b, "%s%s:\n", indent, key)
		for i := range value.List().Len() {
			var entry strings.Builder
			writeFields(&entry, value.List().Get(i).Message(), indent+"    ")
			if entry.Len() == 0 {
				entry.WriteString("{}\n")
			}
			b.WriteString(indent + "  - " + strings.TrimPrefix(entry.String(), indent+"    "))
		}
	case field.Message() != nil:
		var inner strings.Builder
		writeFields(&inner, value.Message(), indent+"  ")
		if inner.Len() > 0 { // a part without facts says nothing
			fmt.Fprintf(b, "%s%s:\n%s", indent, key, inner.String())
		}
	default:
		fmt.Fprintf(b, "%s%s: %s\n", indent, key, scalarText(field, value, option))
	}
}

// fileOption is how a field stands in a file; nil where nothing is said of it.
func fileOption(field protoreflect.FieldDescriptor) *pb.FileField {
	option, _ := proto.GetExtension(field.Options(), pb.E_File).(*pb.FileField)
	return option
}

// fileKey is the key of a field in a file.
func fileKey(field protoreflect.FieldDescriptor) string {
	if key := fileOption(field).GetKey(); key != "" {
		return key
	}
	return string(field.Name())
}

func scalarText(field protoreflect.FieldDescriptor, value protoreflect.Value, option *pb.FileField) string {
	switch field.Kind() {
	case protoreflect.EnumKind:
		return strictyaml.Word(field.Enum().Values().ByNumber(value.Enum()))
	case protoreflect.DoubleKind:
		return number(value.Float()) + option.GetUnit()
	case protoreflect.StringKind:
		if option.GetDate() {
			return value.String()
		}
		return quoted(value.String())
	default:
		return value.String()
	}
}

// quoted is text between double quotes. JSON's form is YAML's too (YAML 1.2.2, section 1.2).
func quoted(text string) string {
	var b strings.Builder
	encoder := json.NewEncoder(&b)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(text); err != nil { // text cannot fail
		return `""`
	}
	return strings.TrimSpace(b.String())
}
