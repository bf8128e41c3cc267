package roster

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// ReplaceName writes other words in the place of a whole name in every text of a message, and tells whether it was there. A
// name within a word stays: "Al" does not stand in "Also".
func ReplaceName(message proto.Message, name, stands string) bool {
	return replaceIn(message.ProtoReflect(), name, stands)
}

func replaceIn(message protoreflect.Message, name, stands string) (changed bool) {
	message.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		switch {
		case field.IsMap():
		case field.IsList() && field.Message() != nil:
			for i := range value.List().Len() {
				changed = replaceIn(value.List().Get(i).Message(), name, stands) || changed
			}
		case field.IsList() && field.Kind() == protoreflect.StringKind:
			for i := range value.List().Len() {
				if text, found := without(value.List().Get(i).String(), name, stands); found {
					value.List().Set(i, protoreflect.ValueOfString(text))
					changed = true
				}
			}
		case field.IsList():
		case field.Message() != nil:
			changed = replaceIn(value.Message(), name, stands) || changed
		case field.Kind() == protoreflect.StringKind:
			if text, found := without(value.String(), name, stands); found {
				message.Set(field, protoreflect.ValueOfString(text))
				changed = true
			}
		}
		return true
	})
	return changed
}

// without is a text with other words in the place of a whole name.
func without(text, name, stands string) (string, bool) {
	var b strings.Builder
	found := false
	for rest := text; name != ""; {
		at := strings.Index(rest, name)
		if at < 0 {
			b.WriteString(rest)
			break
		}
		end := at + len(name)
		before, _ := utf8.DecodeLastRuneInString(rest[:at])
		if at == 0 {
			before, _ = utf8.DecodeLastRuneInString(b.String())
		}
		after, _ := utf8.DecodeRuneInString(rest[end:])
		b.WriteString(rest[:at])
		if inWord(before) || inWord(after) {
			b.WriteString(name)
		} else {
			b.WriteString(stands)
			found = true
		}
		rest = rest[end:]
	}
	return b.String(), found
}

func inWord(r rune) bool { return r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r)) }
