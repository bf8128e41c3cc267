package web

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// maxListed is how many entries of a list a form may name.
const maxListed = 100

// fillIn writes into a message what a form has under prefix, as "facts" for "facts.lights[0].runtime_min". What is left
// empty stays out. Values of fields that the message does not have are passed over. The error is a FIELD_INVALID that names
// each field that cannot be read.
func fillIn(message proto.Message, prefix string, values url.Values) error {
	var wrong []fault.Field
	for _, name := range sortedKeys(values) {
		path, ours := strings.CutPrefix(name, prefix+".")
		value := strings.TrimSpace(values.Get(name))
		if !ours || value == "" {
			continue
		}
		if what := fillOne(message.ProtoReflect(), path, value); what != "" {
			wrong = append(wrong, fault.Field{Path: name, What: what})
		}
	}
	if wrong == nil {
		return nil
	}
	return &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: "some of what was filled in cannot be read", Fields: wrong}
}

// fillOne writes one value, and says what is wrong with it.
func fillOne(at protoreflect.Message, path, value string) string {
	step, rest, deeper := strings.Cut(path, ".")
	name, index, what := indexed(step)
	if what != "" {
		return what
	}
	field := at.Descriptor().Fields().ByName(protoreflect.Name(name))
	switch {
	case field == nil || field.IsMap() || deeper != (field.Kind() == protoreflect.MessageKind) || (index >= 0) != field.IsList():
		return ""
	case deeper && field.IsList():
		return fillOne(entryAt(at.Mutable(field).List(), index).Message(), rest, value)
	case deeper:
		return fillOne(at.Mutable(field).Message(), rest, value)
	}
	read, what := readValue(field, value)
	switch {
	case what != "":
		return what
	case field.IsList():
		list := at.Mutable(field).List()
		for list.Len() <= index {
			list.Append(list.NewElement())
		}
		list.Set(index, read)
	default:
		at.Set(field, read)
	}
	return ""
}

// entryAt is an entry of a list of messages, which grows to have it.
func entryAt(list protoreflect.List, index int) protoreflect.Value {
	for list.Len() <= index {
		list.AppendMutable()
	}
	return list.Get(index)
}

// indexed takes "lights[0]" apart; the index is -1 without one.
func indexed(step string) (name string, index int, what string) {
	name, rest, found := strings.Cut(step, "[")
	if !found {
		return step, -1, ""
	}
	index, err := strconv.Atoi(strings.TrimSuffix(rest, "]"))
	if err != nil || index < 0 || index >= maxListed || !strings.HasSuffix(rest, "]") {
		return "", 0, fmt.Sprintf("is not one of the first %d", maxListed)
	}
	return name, index, ""
}

// inUnit says in which unit a number is written that is often typed with another, as 3h for minutes.
func inUnit(field protoreflect.FieldDescriptor) string {
	for suffix, unit := range map[string]string{"_min": "minutes", "_mm": "millimetres", "_pct": "per cent"} {
		if strings.HasSuffix(string(field.Name()), suffix) {
			return "; write it in " + unit + ", as digits alone"
		}
	}
	return ""
}

// readValue reads what was written for a field. Numbers may have a comma for the point, as people write them.
func readValue(field protoreflect.FieldDescriptor, value string) (protoreflect.Value, string) {
	none := protoreflect.Value{}
	switch field.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(strings.ToValidUTF8(strings.ReplaceAll(value, "\r\n", "\n"), "\uFFFD")), "" // browsers end lines so
	case protoreflect.BoolKind:
		switch value {
		case "true", "yes":
			return protoreflect.ValueOfBool(true), ""
		case "false", "no":
			return protoreflect.ValueOfBool(false), ""
		}
		return none, "is neither yes nor no"
	case protoreflect.DoubleKind:
		read, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64)
		if err != nil || read != read || read-read != 0 {
			return none, fmt.Sprintf("%q is not a number", value) + inUnit(field)
		}
		return protoreflect.ValueOfFloat64(read), ""
	case protoreflect.Int32Kind:
		read, err := strconv.ParseInt(value, 10, 32)
		if err != nil {
			return none, fmt.Sprintf("%q is not a whole number", value)
		}
		return protoreflect.ValueOfInt32(int32(read)), ""
	case protoreflect.EnumKind:
		known := field.Enum().Values().ByName(protoreflect.Name(value))
		if known == nil {
			return none, fmt.Sprintf("%q is not one of the choices", value)
		}
		return protoreflect.ValueOfEnum(known.Number()), ""
	}
	return none, "cannot be filled in here"
}

// filledFrom is the reverse of fillIn: what a form has under prefix for a message.
func filledFrom(message proto.Message, prefix string) url.Values {
	values := make(url.Values, 64)
	unfill(message.ProtoReflect(), prefix, values)
	return values
}

func unfill(at protoreflect.Message, prefix string, into url.Values) {
	at.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		path := prefix + "." + string(field.Name())
		switch {
		case field.IsMap():
		case field.IsList():
			for i := range value.List().Len() {
				unfillOne(field, value.List().Get(i), fmt.Sprintf("%s[%d]", path, i), into)
			}
		default:
			unfillOne(field, value, path, into)
		}
		return true
	})
}

func unfillOne(field protoreflect.FieldDescriptor, value protoreflect.Value, path string, into url.Values) {
	switch field.Kind() {
	case protoreflect.MessageKind:
		unfill(value.Message(), path, into)
	case protoreflect.EnumKind:
		if known := field.Enum().Values().ByNumber(value.Enum()); known != nil {
			into.Set(path, string(known.Name()))
		}
	case protoreflect.DoubleKind:
		into.Set(path, strconv.FormatFloat(value.Float(), 'f', -1, 64))
	default:
		into.Set(path, value.String())
	}
}
