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
	if isClean(request.ProtoReflect()) {
		return nil
	}
	refused := &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: fault.NotAsItMustBe}
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

// isClean tells, faster than cleaned, that there is nothing to clean or refuse.
func isClean(message protoreflect.Message) bool {
	clean := len(message.GetUnknown()) == 0
	message.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		switch {
		case field.IsMap():
			value.Map().Range(func(key protoreflect.MapKey, value protoreflect.Value) bool {
				clean = isCleanValue(key.Value()) && isCleanValue(value)
				return clean
			})
		case field.IsList():
			for i := 0; i < value.List().Len() && clean; i++ {
				clean = isCleanValue(value.List().Get(i))
			}
		default:
			clean = clean && isCleanValue(value)
		}
		return clean
	})
	return clean
}

func isCleanValue(value protoreflect.Value) bool {
	switch value := value.Interface().(type) {
	case protoreflect.Message:
		return isClean(value)
	case string:
		_, found := steering(value)
		return !found
	}
	return true
}

// maxStacked is how many marks may stand on one letter (Unicode Technical Standard #39, section 5.4: forbid sequences of
// more than four nonspacing marks).
const maxStacked = 4

// steering finds what does not belong in text: a control character other than a line break or tab; a character that turns
// the direction of writing (Unicode Standard Annex #9), or that cannot be seen and hides text or parts what looks like one
// word, such as tags; and a mark beyond maxStacked on one letter. The two joiners stay: words of several scripts need them.
func steering(text string) (rune, bool) {
	stacked := 0
	for _, r := range text {
		if r >= ' ' && r <= '~' { // most of what people write, and no mark
			stacked = 0
			continue
		}
		if stacked++; !unicode.In(r, unicode.Mn, unicode.Me) {
			stacked = 0
		}
		switch {
		case r == '\n' || r == '\t' || isJoiner(r) || r == softHyphen || unicode.Is(unicode.Prepended_Concatenation_Mark, r):
		case unicode.In(r, unicode.Cc, unicode.Cf), stacked > maxStacked:
			return r, true
		}
	}
	return 0, false
}

const softHyphen = 0xAD

// isJoiner tells whether a character is the zero width joiner or non-joiner.
func isJoiner(r rune) bool { return r == 0x200C || r == 0x200D }
