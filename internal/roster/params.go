package roster

import (
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/pace"
	pb "gritward/proto/gritward/v1"
)

// params are the defaults of the power balance with what the leader set for the group; the fields are called as the
// figures are.
func params(settings *pb.PaceSettings) (pace.Params, error) {
	p := pace.Defaults()
	var err error
	settings.ProtoReflect().Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		err = p.Set(string(field.Name()), value.Float())
		return err == nil
	})
	return p, err
}
