package server

import (
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

// TestLimited: a message is held against limits that lie deep within it; one that has none anywhere is not.
func TestLimited(t *testing.T) {
	for _, test := range []struct {
		of   protoreflect.ProtoMessage
		want bool
	}{
		{&pb.WhoAmIRequest{}, false}, {&pb.AuditEntry{}, false},
		{&pb.JoinRideRequest{}, true}, {&pb.CreateRideRequest{}, true}, {&pb.DeclareBikeRequest{}, true}, {&pb.Signup{}, true}, {&pb.Member{}, true},
	} {
		if of := test.of.ProtoReflect().Descriptor(); limited(of) != test.want {
			t.Errorf("%s has limits: %t", of.FullName(), !test.want)
		}
	}
}
