package server

import (
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// ReadProtocol reads of the protocol what nearly every call needs: who may call a method, and how those records are laid out by which a
// caller is found. Else the first call would wait for it; beside the opening of the store nobody does.
func ReadProtocol() {
	methodOf(pb.ClubService_WhoAmI_FullMethodName)
	for _, record := range []proto.Message{&pb.DeviceRecord{}, &pb.Member{}, &pb.Club{}} {
		_ = proto.Unmarshal(nil, record) // of nothing it cannot fail
	}
}
