package server

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"buf.build/go/protovalidate"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// The streams of the protocol are answers in many parts: the client sends one request, as in any other call. It is
// looked at when it is read: until then nobody knows what it asks for.

// stream lets a stream through, with its caller in the context once the request is read, or refuses it. Health and
// reflection are open.
func (g *gate) stream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	if open(info.FullMethod) {
		return next(server, smallStream{stream})
	}
	called, known := methodOf(info.FullMethod)
	if !known || info.IsClientStream {
		return fault.New(pb.Reason_NOT_ALLOWED, "there is no such stream")
	}
	return next(server, &gatedStream{ServerStream: stream, ctx: stream.Context(), gate: g, method: called})
}

// gatedStream is a stream that looks at its caller when the request comes.
type gatedStream struct {
	grpc.ServerStream
	ctx    context.Context
	gate   *gate
	method method
}

// Context has the caller in it from the request on.
func (s *gatedStream) Context() context.Context { return s.ctx }

// RecvMsg takes the request.
func (s *gatedStream) RecvMsg(message any) error {
	if err := s.ServerStream.RecvMsg(message); err != nil {
		return err
	}
	if err := errors.Join(readable(message), within(s.method.largest, message, "")); err != nil {
		return err
	}
	who, err := s.gate.admit(s.ctx, s.method.access, message.(proto.Message))
	if err != nil {
		return err
	}
	s.ctx = context.WithValue(s.ctx, callerKey{}, who)
	return nil
}

// smallStream is a stream of a stranger, each message small.
type smallStream struct{ grpc.ServerStream }

// RecvMsg takes the next message.
func (s smallStream) RecvMsg(message any) error {
	if err := s.ServerStream.RecvMsg(message); err != nil {
		return err
	}
	return errors.Join(readable(message), smallEnough(message))
}

// translateStream hands the errors of streams on as statuses.
func translateStream(log *slog.Logger, counters *Counters) grpc.StreamServerInterceptor {
	return func(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
		began := time.Now()
		head(stream.Context(), stream.SetHeader)
		defer counters.streaming(info.FullMethod)()
		return ended(stream.Context(), log, counters, info.FullMethod, began, next(server, stream))
	}
}

// validateStream holds the request of every stream of the protocol against the limits in it.
func validateStream(validator protovalidate.Validator) grpc.StreamServerInterceptor {
	return func(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
		if open(info.FullMethod) {
			return next(server, stream)
		}
		return next(server, soundStream{stream, validator})
	}
}

// soundStream is a stream whose request must be sound.
type soundStream struct {
	grpc.ServerStream
	validator protovalidate.Validator
}

// RecvMsg takes the request.
func (s soundStream) RecvMsg(message any) error {
	if err := s.ServerStream.RecvMsg(message); err != nil {
		return err
	}
	return sound(s.validator, message)
}
