package server

import (
	"fmt"
	"unicode"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protopath"
	"google.golang.org/protobuf/reflect/protorange"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// cleaned prepares a request before anything reads it: fields that the protocol does not know are dropped, so that
// nobody stores what nobody checks, and text that steers a terminal or turns the direction of writing is refused.
func cleaned(request proto.Message) error {
	refused := &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: "the request is not as it must be"}
	err := protorange.Range(request.ProtoReflect(), func(values protopath.Values) error {
		last := values.Index(-1)
		switch value := last.Value.Interface().(type) {
		case protoreflect.Message:
			if len(value.GetUnknown()) > 0 {
				value.SetUnknown(nil)
			}
		case string:
			if r, found := steering(value); found && len(refused.Fields) < 20 {
				refused.Fields = append(refused.Fields, fault.Field{
					Path: values.Path[1:].String()[1:],
					What: fmt.Sprintf("holds the character %U, which does not belong in text", r),
				})
			}
		}
		return nil
	})
	if err == nil && len(refused.Fields) > 0 {
		return refused
	}
	return err
}

// steering finds a control character other than a line break or tab, or one that overrides the direction of writing
// (Unicode Standard Annex 9: explicit formatting characters).
func steering(text string) (rune, bool) {
	for _, r := range text {
		switch {
		case r == '\n' || r == '\t':
		case unicode.IsControl(r), r >= 0x202A && r <= 0x202E, r >= 0x2066 && r <= 0x2069:
			return r, true
		}
	}
	return 0, false
}
