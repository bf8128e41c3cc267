package roster_test

import (
	"testing"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/protobuf/proto"

	"gritward/internal/pace"
	pb "gritward/proto/gritward/v1"
)

// Every figure of the power balance can be set for a group, within the same range, and nothing else can.
func TestPaceSettingsAreTheFigures(t *testing.T) {
	fields := (&pb.PaceSettings{}).ProtoReflect().Descriptor().Fields()
	if fields.Len() != len(pace.Parameters()) {
		t.Errorf("%d fields, %d figures", fields.Len(), len(pace.Parameters()))
	}
	for _, figure := range pace.Parameters() {
		found := false
		for i := range fields.Len() {
			field := fields.Get(i)
			if string(field.Name()) != figure.Name {
				continue
			}
			found = true
			limits := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules).GetDouble()
			if limits.GetGte() != figure.Min || limits.GetLte() != figure.Max {
				t.Errorf("%s is from %g to %g in the protocol, from %g to %g in the balance", figure.Name,
					limits.GetGte(), limits.GetLte(), figure.Min, figure.Max)
			}
		}
		if !found {
			t.Errorf("%s cannot be set for a group", figure.Name)
		}
	}
}
