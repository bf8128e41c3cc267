package server

import (
	"bytes"

	"google.golang.org/grpc/encoding"
	_ "google.golang.org/grpc/encoding/proto" // registers the codec
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// A request that is no message of its type, or has text in it that is not UTF-8, gRPC answers itself, and says that the server
// failed. So the codec lets it through, empty but for a mark, and it is refused like any other that is not as it must be.

// unreadableMark is a field of a number that no message has: those from 19,000 to 19,999 are for implementations of protocol
// buffers (https://protobuf.dev/programming-guides/proto3/#assigning).
var unreadableMark = protowire.AppendVarint(protowire.AppendTag(nil, 19_999, protowire.VarintType), 1)

// lenient is the codec of gRPC, but for requests that it cannot read and answers that are bytes already.
type lenient struct{ encoding.CodecV2 }

// Unmarshal implements encoding.CodecV2.
func (l lenient) Unmarshal(data mem.BufferSlice, v any) error {
	err := l.CodecV2.Unmarshal(data, v)
	if message, ok := v.(proto.Message); ok && err != nil {
		proto.Reset(message)
		message.ProtoReflect().SetUnknown(unreadableMark)
		return nil
	}
	return err
}

// Marshal implements encoding.CodecV2. An answer that was put into bytes before, and holds nothing else, is sent as it lies there.
func (l lenient) Marshal(v any) (mem.BufferSlice, error) {
	if message, ok := v.(proto.Message); ok {
		if ready := message.ProtoReflect().GetUnknown(); len(ready) > 0 && proto.Size(message) == len(ready) {
			return mem.BufferSlice{mem.SliceBuffer(ready)}, nil
		}
	}
	return l.CodecV2.Marshal(v)
}

// readable refuses a request that the codec could not read.
func readable(request any) error {
	if message, ok := request.(proto.Message); ok && bytes.Equal(message.ProtoReflect().GetUnknown(), unreadableMark) {
		return fault.New(pb.Reason_FIELD_INVALID, "the request cannot be read: it is not a message of this method, or a text in it is not UTF-8; "+
			"it comes from a program that does not speak the protocol")
	}
	return nil
}
