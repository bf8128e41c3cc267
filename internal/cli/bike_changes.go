package cli

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

const maxChanges = 3 // told in one line

// changedFacts tells in a few words which facts of a bike are new or gone, by their paths in the file.
func changedFacts(before, now *pb.BikeFacts) string {
	if before == nil {
		return "first declaration"
	}
	had, have := map[string]string{}, map[string]string{}
	flatten(before.ProtoReflect(), "", had)
	flatten(now.ProtoReflect(), "", have)
	var changed []string
	for _, path := range slices.Sorted(maps.Keys(have)) {
		if had[path] != have[path] {
			changed = append(changed, path+": "+have[path])
		}
	}
	for _, path := range slices.Sorted(maps.Keys(had)) {
		if _, still := have[path]; !still {
			changed = append(changed, path+" left out")
		}
	}
	switch more := len(changed) - maxChanges; {
	case len(changed) == 0:
		return "nothing: certified again"
	case more > 0:
		return fmt.Sprintf("%s and %d more", strings.Join(changed[:maxChanges], "; "), more)
	}
	return strings.Join(changed, "; ")
}

// flatten writes every fact that is stated under its path in the file: "brakes.front.looked_on", "lights[0].mode".
func flatten(message protoreflect.Message, prefix string, into map[string]string) {
	message.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		path := prefix + fileKey(field)
		switch {
		case field.IsList():
			for i := range value.List().Len() {
				at := fmt.Sprintf("%s[%d]", path, i)
				if field.Message() == nil {
					into[at] = scalarText(field, value.List().Get(i), fileOption(field))
					continue
				}
				into[at] = "stated"
				flatten(value.List().Get(i).Message(), at+".", into)
			}
		case field.Message() != nil:
			flatten(value.Message(), path+".", into)
		default:
			into[path] = scalarText(field, value, fileOption(field))
		}
		return true
	})
}
