package render

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

const (
	// maxRunes is where a text is cut. The longest field of a roster that a person fills holds 500 characters; sentences
	// made of several fields are longer.
	maxRunes = 2000
	// maxMarks is how many combining marks may follow each other: no script in use stacks more on one letter.
	maxMarks = 4
)

// Clean makes one line of s that is safe to show: valid UTF-8, line breaks and tabs as spaces, no control characters, no
// characters that turn the direction of the text around, at most 2,000 characters. Text in any script and emoji stay.
func Clean(s string) string {
	if tame(s) {
		return s
	}
	return scrubbed(s)
}

// scrubbed is Clean for any text.
func scrubbed(s string) string {
	var b strings.Builder
	runes, marks, gap := 0, 0, false
	for _, r := range strings.ToValidUTF8(s, "\uFFFD") {
		if unicode.IsSpace(r) || r == '\u2028' || r == '\u2029' {
			gap = b.Len() > 0
			continue
		}
		if dropped(r) { // before marks are counted: what goes does not part them
			continue
		}
		if marks = countMark(r, marks); marks > maxMarks {
			continue
		}
		if gap {
			b.WriteByte(' ')
			runes, gap = runes+1, false
		}
		if runes++; runes > maxRunes {
			return strings.TrimSuffix(b.String(), " ") + "…"
		}
		b.WriteRune(r)
	}
	return b.String()
}

// tame tells whether Clean leaves a text as it is, for the most usual ones: short, of ASCII, with single spaces between words.
func tame(s string) bool {
	if len(s) > maxRunes {
		return false
	}
	before := byte(' ')
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c < ' ' || c > '~' || c == ' ' && (before == ' ' || i == len(s)-1) {
			return false
		}
		before = c
	}
	return true
}

func countMark(r rune, marks int) int {
	if unicode.Is(unicode.Mn, r) || unicode.Is(unicode.Me, r) {
		return marks + 1
	}
	return 0
}

// dropped tells which characters do not get through.
func dropped(r rune) bool {
	switch {
	case unicode.IsControl(r),
		r == '\u061C', r == '\u200B', r == '\u200E', r == '\u200F', // marks of direction, space without width
		r >= '\u202A' && r <= '\u202E', r >= '\u2066' && r <= '\u206F', // embeddings, overrides, isolates
		r >= '\uFFF9' && r <= '\uFFFB', r == '\uFEFF', // annotations, byte order mark
		r&0xFFFE == 0xFFFE, r >= 0xFDD0 && r <= 0xFDEF, // no characters; XML refuses some
		!utf8.ValidRune(r):
		return true
	}
	return false
}

// cleaned is m, or where need be a copy of it, with every text in it clean. It must not be changed.
func cleaned[M proto.Message](m M) M {
	if !m.ProtoReflect().IsValid() || tameFields(m.ProtoReflect()) {
		return m
	}
	out := proto.Clone(m).(M) //nolint:errcheck,forcetypeassert // of the same type
	cleanFields(out.ProtoReflect())
	return out
}

// tameFields tells whether cleanFields would change nothing.
func tameFields(m protoreflect.Message) bool {
	all := true
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		text, inner := f.Kind() == protoreflect.StringKind, f.Kind() == protoreflect.MessageKind
		switch {
		case f.IsList() && (text || inner):
			list := v.List()
			for i := 0; i < list.Len() && all; i++ {
				all = text && tame(list.Get(i).String()) || inner && tameFields(list.Get(i).Message())
			}
		case f.IsMap() || f.IsList():
		case text:
			all = tame(v.String())
		case inner:
			all = tameFields(v.Message())
		}
		return all
	})
	return all
}

func cleanFields(m protoreflect.Message) {
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		text, inner := f.Kind() == protoreflect.StringKind, f.Kind() == protoreflect.MessageKind
		switch {
		case f.IsList():
			list := v.List()
			for i := 0; i < list.Len(); i++ {
				if text {
					if was := list.Get(i).String(); !tame(was) {
						list.Set(i, protoreflect.ValueOfString(Clean(was)))
					}
				} else if inner && list.Get(i).Message().IsValid() {
					cleanFields(list.Get(i).Message())
				}
			}
		case text:
			if was := v.String(); !tame(was) {
				m.Set(f, protoreflect.ValueOfString(Clean(was)))
			}
		case inner && !f.IsMap():
			cleanFields(v.Message())
		}
		return true
	})
}
