package strictyaml

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// limits checks the message against the rules of its descriptor and tells each breach at its place, unless something
// about that place has been told already.
func (r *reader) limits(message protoreflect.Message) {
	err := protovalidate.Validate(message.Interface())
	var breaches *protovalidate.ValidationError
	if err == nil {
		return
	}
	if !errors.As(err, &breaches) {
		r.report.at(1, 1, "", "the limits could not be checked: "+err.Error(), "this is a fault of the program")
		return
	}
	// What is wrong with one value is told first: a rule about several values means nothing where one is not there.
	slices.SortStableFunc(breaches.Violations, func(a, b *protovalidate.Violation) int {
		return cmp.Compare(ownRule(a), ownRule(b))
	})
	for _, breach := range breaches.Violations {
		path, field := r.filePath(message.Descriptor(), breach.Proto.GetField())
		if !r.report.blamed(path) {
			r.breach(breach, path, field)
		}
	}
}

// ownRule is 1 for a rule that a message states about its fields, and 0 for one of the usual rules of a field.
func ownRule(breach *protovalidate.Violation) int {
	if breach.Proto.GetRule() == nil {
		return 1
	}
	return 0
}

// filePath turns a path of field names into one of the file's keys, and finds the field at its end.
func (r *reader) filePath(message protoreflect.MessageDescriptor, names *validate.FieldPath) (string, protoreflect.FieldDescriptor) {
	path, field := "", protoreflect.FieldDescriptor(nil)
	for _, element := range names.GetElements() {
		if message == nil || message.Fields().ByName(protoreflect.Name(element.GetFieldName())) == nil {
			break
		}
		field = message.Fields().ByName(protoreflect.Name(element.GetFieldName()))
		message = field.Message()
		path = join(path, keyOf(field, r.opts))
		if element.HasIndex() {
			path = fmt.Sprintf("%s[%d]", path, element.GetIndex())
		}
	}
	return path, field
}

func (r *reader) breach(breach *protovalidate.Violation, path string, field protoreflect.FieldDescriptor) {
	line, column := r.positions.At(path)
	if field == nil {
		r.report.at(line, column, path, breach.Proto.GetMessage(), "")
		return
	}
	key := lastKey(path)
	if !r.positions.Has(path) {
		r.report.at(line, column, path, key+" is missing", r.howTo(field))
		return
	}
	message, hint := key+" must be "+rangeOf(field), r.form(field)
	switch rule := breach.Proto.GetRuleId(); {
	case rule == "string.max_len":
		message = fmt.Sprintf("%s is too long: %d characters, at most %d", key, len([]rune(breach.FieldValue.String())), breach.RuleValue.Uint())
		hint = "say it in fewer words"
	case rule == "string.min_len":
		message = key + " is empty"
	case rule == "string.pattern":
		message = show(breach.FieldValue.String()) + " will not do for " + key
	case rule == "repeated.max_items":
		message = fmt.Sprintf("%s has %d entries, at most %d", key, breach.FieldValue.List().Len(), breach.RuleValue.Uint())
		hint = "take out those that are not needed"
	case rule == "repeated.min_items":
		message = key + " has no entries"
	case rule == "repeated.unique":
		message, hint = key+" names something twice", "keep one of the two"
	case rangeOf(field) == "":
		message, hint = key+": "+breach.Proto.GetMessage(), r.opts.Hints[field.FullName()]
	}
	r.report.at(line, column, path, message, hint)
}
