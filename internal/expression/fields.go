package expression

import (
	"fmt"
	"math"

	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// unset is the error of reading a field that has no value.
type unset struct {
	field  protoreflect.FieldDescriptor
	ofBike bool
}

func (u *unset) Error() string { return string(u.field.Name()) + " has no value" }

// tester tells whether a field has a value. It is what has() asks.
func tester(field protoreflect.FieldDescriptor) ref.FieldTester {
	return func(target any) bool {
		message, ok := target.(protoreflect.Message)
		return ok && message.Has(field)
	}
}

// getter reads a field. A value that was never given is an error: the protocol's default would pass for a fact.
func getter(field protoreflect.FieldDescriptor, ofBike bool) ref.FieldGetter {
	read, missing := reader(field), &unset{field, ofBike}
	wanted := ofBike || field.HasPresence() || field.Kind() == protoreflect.StringKind
	if field.IsList() || field.Message() != nil && !isTimestamp(field) {
		wanted = false // an empty list is a list; beneath an empty message the fields are missing, not the message
	}
	return func(target any) (any, error) {
		message, ok := target.(protoreflect.Message)
		if !ok {
			return nil, fmt.Errorf("%s cannot be read of %T", field.Name(), target)
		}
		value, given := read(message)
		if !given && wanted && !message.Has(field) {
			return nil, missing
		}
		if value == nil {
			return nil, missing
		}
		return value, nil
	}
}

// reader reads a field's value. given is false where it is the default, and may not have been given; a value that is
// none, such as a number that is not one, is nil.
func reader(field protoreflect.FieldDescriptor) func(protoreflect.Message) (value any, given bool) {
	switch {
	case field.IsList():
		return func(m protoreflect.Message) (any, bool) { return m.Get(field).List(), true }
	case isTimestamp(field):
		return func(m protoreflect.Message) (any, bool) {
			at, ok := m.Get(field).Message().Interface().(*timestamppb.Timestamp)
			if !ok || !at.IsValid() {
				return nil, false
			}
			return types.Timestamp{Time: at.AsTime()}, at != nil
		}
	case field.Message() != nil:
		return func(m protoreflect.Message) (any, bool) { return m.Get(field).Message(), true }
	case field.Enum() != nil:
		return func(m protoreflect.Message) (any, bool) {
			n := m.Get(field).Enum()
			return types.Int(n), n != 0
		}
	default:
		return scalarReader(field)
	}
}

func scalarReader(field protoreflect.FieldDescriptor) func(protoreflect.Message) (any, bool) {
	switch field.Kind() {
	case protoreflect.BoolKind:
		return func(m protoreflect.Message) (any, bool) {
			yes := m.Get(field).Bool()
			return types.Bool(yes), yes
		}
	case protoreflect.StringKind:
		return func(m protoreflect.Message) (any, bool) {
			text := m.Get(field).String()
			return types.String(text), text != ""
		}
	case protoreflect.Int32Kind:
		return func(m protoreflect.Message) (any, bool) {
			n := m.Get(field).Int()
			return types.Double(n), n != 0
		}
	default:
		return func(m protoreflect.Message) (any, bool) {
			x := m.Get(field).Float()
			if math.IsNaN(x) {
				return nil, false
			}
			return types.Double(x), x != 0
		}
	}
}
