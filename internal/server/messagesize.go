package server

import (
	rules "buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// maxPlain is the largest message taken of a member beside the files in it, in bytes: a ride with all its groups, or a
// thousand marks.
const maxPlain = 512 << 10

// filesIn is how many bytes the byte fields of a message may have.
func filesIn(message protoreflect.MessageDescriptor) (most int) {
	for i := range message.Fields().Len() {
		field := message.Fields().Get(i)
		if field.Kind() == protoreflect.BytesKind {
			of, _ := proto.GetExtension(field.Options(), rules.E_Field).(*rules.FieldRules)
			most += int(of.GetBytes().GetMaxLen())
		}
	}
	return most
}

// within refuses a message that is larger than so many bytes.
func within(most int, message any, who string) error {
	if m, ok := message.(proto.Message); ok && proto.Size(m) > most {
		return fault.New(pb.Reason_MESSAGE_TOO_LARGE, "the message has %d bytes; %sat most %d are taken", proto.Size(m), who, most)
	}
	return nil
}
