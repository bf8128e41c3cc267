package dial_test

import (
	"context"
	"net"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"gritward/internal/dial"
	pb "gritward/proto/gritward/v1"
)

// listens answers calls of every method on a free port.
func listens(t *testing.T, answer func(*grpc.Server, grpc.ServerStream) error) (address string) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var server *grpc.Server
	server = grpc.NewServer(grpc.UnknownServiceHandler(func(_ any, stream grpc.ServerStream) error { return answer(server, stream) }))
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	return listener.Addr().String()
}

// heard are the calls that a server had, by method.
type heard struct {
	mu    sync.Mutex
	calls map[string]int
}

func (h *heard) hear(stream grpc.ServerStream) {
	method, _ := grpc.MethodFromServerStream(stream)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.calls == nil {
		h.calls = map[string]int{}
	}
	h.calls[method]++
}

// TestSentAgain has the first of two servers die with a call in its hands: what counts once or only reads goes on to the second, and
// nothing else does.
func TestSentAgain(t *testing.T) {
	for _, row := range []struct {
		method  string
		request proto.Message
		again   bool
	}{
		{"RideService/JoinRide", &pb.JoinRideRequest{RequestId: "a"}, true},
		{"RideService/JoinRide", &pb.JoinRideRequest{}, false},
		{"RideService/PublishRoster", &pb.PublishRosterRequest{RequestId: "a"}, true},
		{"RideService/PublishRoster", &pb.PublishRosterRequest{}, false},
		{"RollCallService/RecordMarks", &pb.RecordMarksRequest{Marks: []*pb.Mark{{Name: "m"}}}, true},
		{"RollCallService/GetRollCall", &pb.GetRollCallRequest{}, true},
		{"ClubService/AcceptInvite", &pb.AcceptInviteRequest{}, false},
		{"RideService/WithdrawSignup", &pb.WithdrawSignupRequest{}, false},
		{"PersonalService/GetEmergencyContacts", &pb.GetEmergencyContactsRequest{}, false},
	} {
		var first, second heard
		dies := listens(t, func(server *grpc.Server, stream grpc.ServerStream) error {
			first.hear(stream)
			go server.Stop()
			<-stream.Context().Done()
			return stream.Context().Err()
		})
		lives := listens(t, func(_ *grpc.Server, stream grpc.ServerStream) error {
			second.hear(stream)
			return stream.SendMsg(&pb.Member{})
		})
		target, options := dial.To([]string{dies, lives})
		conn, err := grpc.NewClient(target, append(options, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		method := "/gritward.v1." + row.method
		err = conn.Invoke(ctx, method, row.request, &pb.Member{})
		cancel()
		_ = conn.Close()
		if row.again != (err == nil) || !row.again && status.Code(err) != codes.Unavailable {
			t.Errorf("%s %v: %v", row.method, row.request, err)
		}
		if first.calls[method] != 1 || (second.calls[method] == 1) != row.again {
			t.Errorf("%s %v: the first had %v, the second %v", row.method, row.request, first.calls, second.calls)
		}
	}
}

// TestSentAgainEnds has a server that never can: it is asked so often and no more, and not beyond the caller's time.
func TestSentAgainEnds(t *testing.T) {
	var all heard
	busy := listens(t, func(_ *grpc.Server, stream grpc.ServerStream) error {
		all.hear(stream)
		return status.Error(codes.Unavailable, "busy")
	})
	target, options := dial.To([]string{busy, busy})
	conn, err := grpc.NewClient(target, append(options, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close() }()
	rides := pb.NewRideServiceClient(conn)
	if _, err := rides.JoinRide(t.Context(), &pb.JoinRideRequest{RequestId: "a"}); status.Code(err) != codes.Unavailable {
		t.Error(err)
	}
	if got := all.calls["/gritward.v1.RideService/JoinRide"]; got != 5 {
		t.Errorf("sent %d times", got)
	}
	short, cancel := context.WithTimeout(t.Context(), time.Millisecond)
	defer cancel()
	if _, err := rides.JoinRide(short, &pb.JoinRideRequest{RequestId: "b"}); err == nil {
		t.Error("no error")
	}
}
