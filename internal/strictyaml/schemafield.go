package strictyaml

import (
	"regexp"
	"strings"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// field is the schema of what stands behind a key, with its description.
func (w *schemaWriter) field(field protoreflect.FieldDescriptor) *schema {
	rules, _ := protovalidate.ResolveFieldRules(field)
	s := w.value(field, rules)
	if field.IsList() {
		s = w.list(field, rules)
	}
	s.Description = w.describe(field)
	if field.Kind() == protoreflect.EnumKind {
		s.Description += w.wordList(field)
	}
	return s
}

// list is the schema of a list, or of one plain value as a list of one.
func (w *schemaWriter) list(field protoreflect.FieldDescriptor, rules *validate.FieldRules) *schema {
	repeated := rules.GetRepeated()
	s := &schema{
		Type: "array", Items: w.value(field, repeated.GetItems()),
		MinItems: repeated.GetMinItems(), MaxItems: repeated.GetMaxItems(), UniqueItems: repeated.GetUnique(),
	}
	if field.Message() != nil && !isDuration(field) {
		return s
	}
	return &schema{AnyOf: []*schema{s.Items, s}}
}

// value is the schema of one value.
func (w *schemaWriter) value(field protoreflect.FieldDescriptor, rules *validate.FieldRules) *schema {
	switch {
	case isDuration(field):
		return &schema{Type: "string", Pattern: spanPattern()}
	case field.Message() != nil:
		return &schema{Ref: w.ref(field.Message())}
	}
	switch field.Kind() {
	case protoreflect.EnumKind:
		return &schema{Enum: wordsOf(field, w.opts)}
	case protoreflect.BoolKind:
		return &schema{Type: "boolean"}
	case protoreflect.StringKind:
		return w.text(field, rules.GetString())
	default:
		return numberSchema(field, rules)
	}
}

// text is the schema of text. YAML reads 2026 and true as a number and a truth value; as text they are accepted too.
func (w *schemaWriter) text(field protoreflect.FieldDescriptor, rules *validate.StringRules) *schema {
	s := &schema{Type: []string{"string", "number", "boolean"}, MinLength: rules.GetMinLen(), MaxLength: rules.GetMaxLen(), Pattern: rules.GetPattern()}
	if pattern, ok := w.patterns[field.FullName()]; ok {
		s.Pattern = pattern
	}
	if fileOption(field).GetDate() {
		s.Pattern = `^[0-9]{4}-[0-9]{2}-[0-9]{2}$`
	}
	if s.Pattern == "" {
		return s
	}
	s.Type = "string"
	if matches, err := regexp.MatchString(s.Pattern, "true"); err == nil && matches {
		s.Type = []string{"string", "boolean"}
	}
	return s
}

// numberSchema is the schema of a number, which is text where it has a unit.
func numberSchema(field protoreflect.FieldDescriptor, rules *validate.FieldRules) *schema {
	typed := protoreflect.Message(nil)
	if rules != nil {
		typed = ofKind(rules)
	}
	limit := func(name protoreflect.Name) *float64 {
		if typed == nil {
			return nil
		}
		if x, ok := amount(typed, name); ok {
			return &x
		}
		return nil
	}
	if unit := fileOption(field).GetUnit(); unit != "" {
		digits := `-?(0|[1-9][0-9]*)(\.[0-9]+)?`
		if low, high, bounded := spread(field); bounded {
			digits = rangePattern(low, high)
		}
		pattern := `^` + digits + ` ?` + regexp.QuoteMeta(unit) + `$`
		if unit == "min" {
			pattern = `(` + pattern + `)|(` + spanPattern() + `)`
		}
		return &schema{Type: "string", Pattern: pattern}
	}
	s := &schema{Type: "number", Minimum: limit("gte"), ExclusiveMinimum: limit("gt"), Maximum: limit("lte"), ExclusiveMaximum: limit("lt")}
	if field.Kind() == protoreflect.Int32Kind || field.Kind() == protoreflect.Int64Kind {
		s.Type = "integer"
	}
	return s
}

// spanPattern is a span of time as ParseDuration reads it: units from large to small, at least one.
func spanPattern() string {
	var parts, whole []string
	for _, u := range units() {
		parts = append(parts, `[0-9]+ ?(`+strings.Join(u.names, "|")+`) ?`)
	}
	for i, part := range parts {
		for _, later := range parts[i+1:] {
			part += `(` + later + `)?`
		}
		whole = append(whole, part)
	}
	return `^(` + strings.Join(whole, "|") + `)$`
}

// wordList tells what each word of an enum means.
func (w *schemaWriter) wordList(field protoreflect.FieldDescriptor) string {
	var b strings.Builder
	known := wordsOf(field, w.opts)
	for i := range field.Enum().Values().Len() {
		value := field.Enum().Values().Get(i)
		for _, word := range known {
			if meaning := w.describe(value); word == Word(value) && meaning != "" {
				b.WriteString("\n- " + word + ": " + meaning)
			}
		}
	}
	return b.String()
}
