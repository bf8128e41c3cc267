package expression

import (
	"maps"
	"slices"

	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
)

// provider lets the type checker look into the vocabulary. Expressions read messages and never make one.
type provider struct{ *vocabulary }

func (p provider) EnumValue(name string) ref.Val { return types.NewErr("unknown word %s", name) }

func (p provider) FindIdent(string) (ref.Val, bool) { return nil, false }

func (p provider) FindStructType(name string) (*types.Type, bool) {
	if p.messages[name] == nil {
		return nil, false
	}
	return types.NewTypeTypeWithParam(types.NewObjectType(name)), true
}

func (p provider) FindStructFieldNames(name string) ([]string, bool) {
	fields, ok := p.messages[name]
	return slices.Sorted(maps.Keys(fields)), ok
}

func (p provider) FindStructFieldType(name, field string) (*types.FieldType, bool) {
	found, ok := p.messages[name][field]
	return found, ok
}

func (p provider) NewValue(name string, _ map[string]ref.Val) ref.Val {
	return types.NewErr("a %s cannot be made", name)
}
