package server

import (
	"sync"
	"time"

	rules "buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// validator holds messages against the limits in the protocol. Making one takes longer than all else at the start of a
// server: a message without limits does not wait for it, and it is made when one that has them comes, or when the start is
// over.
type validator struct{}

// made makes the one validator of the process; it keeps what it made of each type of message.
var made = sync.OnceValues(func() (protovalidate.Validator, error) { return protovalidate.New() })

// settled is after how long the start of a server is over.
const settled = 250 * time.Millisecond

func newValidator() validator {
	time.AfterFunc(settled, func() { _, _ = made() })
	return validator{}
}

// Validate implements protovalidate.Validator.
func (validator) Validate(message proto.Message, options ...protovalidate.ValidationOption) error {
	if !limited(message.ProtoReflect().Descriptor()) {
		return nil
	}
	under, err := made()
	if err != nil {
		return err
	}
	return under.Validate(message, options...)
}

// limitedTypes says of types of messages whether they have limits, by full name.
var limitedTypes sync.Map

// limited tells whether a type of messages has limits, or one within it.
func limited(of protoreflect.MessageDescriptor) bool {
	if known, ok := limitedTypes.Load(of.FullName()); ok {
		return known.(bool)
	}
	is := hasLimits(of, map[protoreflect.FullName]bool{})
	limitedTypes.Store(of.FullName(), is)
	return is
}

func hasLimits(of protoreflect.MessageDescriptor, seen map[protoreflect.FullName]bool) bool {
	if seen[of.FullName()] {
		return false
	}
	seen[of.FullName()] = true
	if proto.HasExtension(of.Options(), rules.E_Message) {
		return true
	}
	for i := range of.Oneofs().Len() {
		if proto.HasExtension(of.Oneofs().Get(i).Options(), rules.E_Oneof) {
			return true
		}
	}
	for i := range of.Fields().Len() {
		field := of.Fields().Get(i)
		if proto.HasExtension(field.Options(), rules.E_Field) || field.Message() != nil && hasLimits(field.Message(), seen) {
			return true
		}
	}
	return false
}
