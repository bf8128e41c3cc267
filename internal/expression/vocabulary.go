package expression

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/types"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

// vocabulary is what expressions can name beneath bike and group: the messages that are reached from them, with their
// fields, and the words of the enums among those. It never changes once built.
type vocabulary struct {
	messages map[string]map[string]*types.FieldType // by the message's name, then the field's
	words    map[string]word                        // by what an expression writes: REAR, End.REAR, Light.STEADY
	unclear  map[string][]string                    // bare words of several enums, with what to write instead
}

// word is one value of an enum. An enum is a type of its own, so that one is never compared with another.
type word struct {
	enum   *types.Type
	number protoreflect.EnumNumber
}

// newVocabulary walks the descriptors. A fact of the bike without a value was not declared, whatever its presence in the
// protocol; of a group's plan only what has presence, and texts, can be missing.
func newVocabulary() *vocabulary {
	v := &vocabulary{messages: map[string]map[string]*types.FieldType{}, words: map[string]word{}, unclear: map[string][]string{}}
	v.message((&pb.BikeFacts{}).ProtoReflect().Descriptor(), true)
	v.message((&pb.GroupPlan{}).ProtoReflect().Descriptor(), false)
	v.bareWords()
	return v
}

func (v *vocabulary) message(d protoreflect.MessageDescriptor, ofBike bool) {
	name := nameOf(d)
	if v.messages[name] != nil {
		return
	}
	fields := map[string]*types.FieldType{}
	v.messages[name] = fields
	for i := range d.Fields().Len() {
		field := d.Fields().Get(i)
		fields[string(field.Name())] = &types.FieldType{Type: v.typeOf(field), IsSet: tester(field), GetFrom: getter(field, ofBike)}
		if field.Enum() != nil {
			v.enum(field.Enum())
		}
		if field.Message() != nil && !isTimestamp(field) {
			v.message(field.Message(), ofBike)
		}
	}
}

// enum adds the values with their owner: End.REAR, Light.STEADY. The value 0, not stated, has no word: has() asks for it.
func (v *vocabulary) enum(d protoreflect.EnumDescriptor) {
	owner := nameOf(d)
	if parent, nested := d.Parent().(protoreflect.MessageDescriptor); nested {
		owner = nameOf(parent)
	}
	for i := range d.Values().Len() {
		if value := d.Values().Get(i); value.Number() != 0 {
			v.words[owner+"."+string(value.Name())] = word{cel.OpaqueType(nameOf(d)), value.Number()}
		}
	}
}

// bareWords adds the values without their owner, where only one enum has them.
func (v *vocabulary) bareWords() {
	owners := map[string][]string{}
	for _, full := range slices.Sorted(maps.Keys(v.words)) {
		bare := full[strings.LastIndexByte(full, '.')+1:]
		owners[bare] = append(owners[bare], full)
	}
	for bare, full := range owners {
		if len(full) == 1 {
			v.words[bare] = v.words[full[0]]
		} else {
			v.unclear[bare] = full
		}
	}
}

// typeOf is the type of a field in expressions.
func (v *vocabulary) typeOf(field protoreflect.FieldDescriptor) *types.Type {
	var t *types.Type
	switch {
	case isTimestamp(field):
		t = types.TimestampType
	case field.Message() != nil:
		t = types.NewObjectType(nameOf(field.Message()))
	case field.Enum() != nil:
		t = types.NewOpaqueType(nameOf(field.Enum()))
	case field.Kind() == protoreflect.BoolKind:
		t = types.BoolType
	case field.Kind() == protoreflect.StringKind:
		t = types.StringType
	case field.Kind() == protoreflect.Int32Kind, field.Kind() == protoreflect.DoubleKind:
		t = types.DoubleType // one kind of number, so that all mix
	default:
		panic(fmt.Sprintf("%s: expressions do not know %s yet", field.FullName(), field.Kind()))
	}
	if field.IsList() {
		return types.NewListType(t)
	}
	return t
}

func isTimestamp(field protoreflect.FieldDescriptor) bool {
	return field.Message() != nil && field.Message().FullName() == "google.protobuf.Timestamp"
}

// nameOf is a message's or an enum's name without its package: "Light", "Light.Mode".
func nameOf(d protoreflect.Descriptor) string {
	return strings.TrimPrefix(string(d.FullName()), string(d.ParentFile().Package())+".")
}
