package server

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/fault"
)

// applyMask copies the fields named in the mask from one message to another of its type. Only whole top-level fields
// that are allowed can be named; the error says which can.
func applyMask(to, from proto.Message, mask *fieldmaskpb.FieldMask, allowed []string) error {
	if len(mask.GetPaths()) == 0 {
		return fault.Invalid("update_mask", "names no field; name at least one of: %s", strings.Join(allowed, ", "))
	}
	target, source := to.ProtoReflect(), from.ProtoReflect()
	if len(mask.Paths) > len(allowed) {
		return fault.Invalid("update_mask", "names %d fields; name each of these at most once: %s", len(mask.Paths), strings.Join(allowed, ", "))
	}
	for _, path := range mask.Paths {
		if !slices.Contains(allowed, path) {
			return fault.Invalid("update_mask", "%q cannot be changed here; what can: %s", path, strings.Join(allowed, ", "))
		}
		field := target.Descriptor().Fields().ByName(protoreflect.Name(path))
		if source.Has(field) {
			target.Set(field, source.Get(field))
		} else {
			target.Clear(field)
		}
	}
	return nil
}
