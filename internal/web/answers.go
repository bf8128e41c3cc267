package web

import (
	"context"
	"crypto/sha256"
	"reflect"
	"sync/atomic"

	"google.golang.org/grpc"
	"google.golang.org/grpc/encoding"
	_ "google.golang.org/grpc/encoding/proto" // registers the codec
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"
)

// Most of a roster, of a plan, of a list of members is what it was when somebody looked at it a moment ago. What the bytes of a large
// answer mean is kept by their digest, and given again where the very same bytes are answered: to whomever, the server has said so.

// large is how many bytes an answer has at least that is kept.
const large = 2 << 10

// grows is about how much more room an answer takes than its bytes.
const grows = 4

// answered is a connection whose large answers are kept. What is in them is shared, and must not be changed; the outermost message and
// its lists are the caller's own.
type answered struct {
	grpc.ClientConnInterface
	codec grpc.CallOption
}

func newAnswered(conn grpc.ClientConnInterface) answered {
	return answered{conn, grpc.ForceCodecV2(&codec{CodecV2: encoding.GetCodecV2("proto")})}
}

// Invoke implements grpc.ClientConnInterface.
func (a answered) Invoke(ctx context.Context, method string, args, reply any, opts ...grpc.CallOption) error {
	return a.ClientConnInterface.Invoke(ctx, method, args, reply, append(opts, a.codec)...)
}

// codec is gRPC's own for messages, but for large answers.
type codec struct {
	encoding.CodecV2
	known drawings
}

// Unmarshal implements encoding.CodecV2.
func (c *codec) Unmarshal(data mem.BufferSlice, into any) error {
	answer, ok := into.(proto.Message)
	size := data.Len()
	if !ok || size < large {
		return c.CodecV2.Unmarshal(data, into)
	}
	digest := sha256.New()
	for _, piece := range data {
		digest.Write(piece.ReadOnlyData())
	}
	digest.Write([]byte(answer.ProtoReflect().Descriptor().FullName()))
	key := [sha256.Size]byte(digest.Sum(nil))
	if found, ok := c.known.find(key); ok {
		share(found.(proto.Message), answer) //nolint:errcheck,forcetypeassert // its name is in the key
		return c.held(data, answer)
	}
	if err := c.CodecV2.Unmarshal(data, into); err != nil {
		return err
	}
	kept := answer.ProtoReflect().New().Interface()
	share(answer, kept)
	c.known.put(key, kept, grows*size)
	return nil
}

// distrust is told of a kept answer that somebody changed. It is set by tests.
var distrust atomic.Pointer[func(kind string)]

// held holds a kept answer against its bytes, in tests.
func (c *codec) held(data mem.BufferSlice, answer proto.Message) error {
	told := distrust.Load()
	if told == nil {
		return nil
	}
	as := answer.ProtoReflect().New().Interface()
	if err := c.CodecV2.Unmarshal(data, as); err != nil {
		return err
	}
	if !proto.Equal(as, answer) {
		(*told)(string(answer.ProtoReflect().Descriptor().FullName()))
	}
	return nil
}

// share puts what is in a message into another one of its kind, which is new, with lists of its own but for those of numbers.
func share(from, into proto.Message) {
	was, is := reflect.ValueOf(from).Elem(), reflect.ValueOf(into).Elem()
	for i := range was.NumField() {
		if !was.Type().Field(i).IsExported() {
			continue
		}
		value := was.Field(i)
		if value.Kind() == reflect.Slice && !value.IsNil() && (value.Type().Elem().Kind() == reflect.Pointer || value.Type().Elem().Kind() == reflect.String) {
			list := reflect.MakeSlice(value.Type(), value.Len(), value.Len())
			reflect.Copy(list, value)
			value = list
		}
		is.Field(i).Set(value)
	}
	into.ProtoReflect().SetUnknown(from.ProtoReflect().GetUnknown())
}
