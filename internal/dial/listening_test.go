package dial_test

import (
	"context"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"

	"gritward/internal/dial"
	"gritward/internal/dial/dialtest"
	pb "gritward/proto/gritward/v1"
)

// TestVanishedWhileListening has a client listen to the first of two servers, which has nothing to say, when its machine vanishes behind
// something that acknowledges still what is sent there. The client finds that nobody answers, within a minute at the most, and listens to the
// second.
func TestVanishedWhileListening(t *testing.T) {
	t.Parallel()
	listening := func(h *heard) func(*grpc.Server, grpc.ServerStream) error {
		return func(_ *grpc.Server, stream grpc.ServerStream) error {
			h.hear(stream)
			if err := stream.SendMsg(&pb.RideChange{}); err != nil {
				return err
			}
			<-stream.Context().Done()
			return stream.Context().Err()
		}
	}
	var first, second heard
	proxy := dialtest.NewProxy(t, listens(t, listening(&first)))
	target, options := dial.To([]string{proxy.Address, listens(t, listening(&second))})
	conn, err := grpc.NewClient(target, append(options, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close() }()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	listen := func() grpc.ServerStreamingClient[pb.RideChange] {
		t.Helper()
		stream, err := pb.NewRideServiceClient(conn).WatchRide(ctx, &pb.WatchRideRequest{}, grpc.WaitForReady(true))
		if err == nil {
			_, err = stream.Recv()
		}
		if err != nil {
			t.Fatal(err)
		}
		return stream
	}
	stream := listen()
	proxy.Hold()
	if _, err := stream.Recv(); status.Code(err) != codes.Unavailable {
		t.Fatalf("the first is gone, and the client hears %v", err)
	}
	listen()
	const method = "/gritward.v1.RideService/WatchRide"
	if first.calls[method] != 1 || second.calls[method] != 1 {
		t.Errorf("the first had %v, the second %v", first.calls, second.calls)
	}
}
