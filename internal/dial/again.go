package dial

import (
	"context"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// onceAgain sends a call again that no server answered, where it counts once however often it is sent: the server knows it by its id.
func onceAgain(ctx context.Context, method string, request, answer any, conn *grpc.ClientConn, invoke grpc.UnaryInvoker, options ...grpc.CallOption) error {
	message, is := request.(proto.Message)
	if !is || !countsOnce(message) {
		return invoke(ctx, method, request, answer, conn, options...)
	}
	options = append(options, grpc.WaitForReady(true))
	for pause, tries := firstPause, 1; ; pause, tries = min(2*pause, longestPause), tries+1 {
		err := invoke(ctx, method, request, answer, conn, options...)
		if status.Code(err) != codes.Unavailable || tries == mostTries {
			return err
		}
		timer := time.NewTimer(pause)
		select {
		case <-timer.C:
		case <-ctx.Done():
			timer.Stop()
			return err
		}
	}
}

// countsOnce tells whether a request has an id by which the server knows it when it comes again. Marks have one each.
func countsOnce(request proto.Message) bool {
	if _, marks := request.(*pb.RecordMarksRequest); marks {
		return true
	}
	message := request.ProtoReflect()
	field := message.Descriptor().Fields().ByName("request_id")
	return field != nil && message.Get(field).String() != ""
}
