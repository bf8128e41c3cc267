package strictyaml

import (
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// number reads a number, with its unit where the field has one. The second result says what is wrong; empty if nothing.
func number(field protoreflect.FieldDescriptor, text string, quoted bool) (protoreflect.Value, string) {
	unit := fileOption(field).GetUnit()
	if unit == "" {
		if quoted {
			return protoreflect.Value{}, show(text) + " is text, not a number"
		}
		return plainNumber(field, text, text)
	}
	if unit == "min" {
		if span, err := ParseDuration(text); err == nil && !strings.Contains(text, "d") {
			return protoreflect.ValueOfFloat64(span.Minutes()), ""
		}
	}
	digits := leading(text, "+-0123456789.,")
	switch rest := strings.TrimPrefix(text[len(digits):], " "); {
	case !strings.ContainsAny(digits, "0123456789"):
		return protoreflect.Value{}, show(text) + " is not a number with a unit"
	case rest == "":
		return protoreflect.Value{}, show(text) + " has no unit"
	case rest != unit:
		return protoreflect.Value{}, show(text) + " is not in " + unit
	}
	return plainNumber(field, digits, text)
}

// plainNumber reads digits for the field's kind; text is what to show of them. Forms that YAML readers disagree about,
// a leading zero or an exponent for example, are no numbers here.
func plainNumber(field protoreflect.FieldDescriptor, digits, text string) (protoreflect.Value, string) {
	none := protoreflect.Value{}
	if len(digits) > 30 || !decimal().MatchString(digits) {
		return none, show(text) + " is not a number"
	}
	switch field.Kind() {
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		n, err := strconv.ParseInt(digits, 10, 32)
		if err != nil && strings.Contains(digits, ".") {
			return none, show(text) + " is not a whole number"
		}
		if err != nil {
			return none, show(text) + " is too large a number"
		}
		if field.Kind() == protoreflect.Int64Kind {
			return protoreflect.ValueOfInt64(n), ""
		}
		return protoreflect.ValueOfInt32(int32(n)), ""
	case protoreflect.DoubleKind, protoreflect.FloatKind:
		x, err := strconv.ParseFloat(digits, 64)
		if err != nil {
			return none, show(text) + " is not a number"
		}
		if field.Kind() == protoreflect.FloatKind {
			return protoreflect.ValueOfFloat32(float32(x)), ""
		}
		return protoreflect.ValueOfFloat64(x + 0), "" // + 0 turns -0 into 0
	default:
		return none, "a file cannot set this"
	}
}

// decimal is a decimal number as everybody writes it.
var decimal = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`) })

// formatNumber writes a number with its unit, without needless digits.
func formatNumber(x float64, unit string) string {
	return strconv.FormatFloat(x, 'f', -1, 64) + unit
}

// formatSpan writes a span of time of whole seconds.
func formatSpan(seconds int64) string { return FormatDuration(time.Duration(seconds) * time.Second) }
