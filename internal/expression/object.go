package expression

import (
	"errors"
	"reflect"

	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// errWhole is the error of using a message as a whole. Only its fields have values of their own: compared as a whole,
// two that were not declared would be equal.
var errWhole = errors.New("compare fields, not the whole")

// object is a message as an expression's value. All that can be done with it is to read its fields.
type object struct{ protoreflect.Message }

func (o object) ConvertToNative(reflect.Type) (any, error) { return nil, errWhole }
func (o object) ConvertToType(ref.Type) ref.Val            { return types.WrapErr(errWhole) }
func (o object) Equal(ref.Val) ref.Val                     { return types.WrapErr(errWhole) }
func (o object) Type() ref.Type                            { return types.NewObjectType(nameOf(o.Descriptor())) }
func (o object) Value() any                                { return o.Message }

// adapter turns what fields hold into values of expressions.
type adapter struct{}

func (a adapter) NativeToValue(value any) ref.Val {
	switch v := value.(type) {
	case ref.Val:
		return v
	case protoreflect.List:
		return types.NewProtoList(a, v)
	case protoreflect.Message:
		return object{v}
	case protoreflect.EnumNumber:
		return types.Int(v)
	default:
		return types.DefaultTypeAdapter.NativeToValue(value)
	}
}
