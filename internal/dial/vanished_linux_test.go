package dial_test

import (
	"context"
	"io"
	"net"
	"strings"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"gritward/internal/dial"
	pb "gritward/proto/gritward/v1"
)

// TestVanished has the first of two servers take a connection, and then nothing of what comes over it any more: the kernel acknowledges
// no byte beyond the little that it has room for, as it is when the machine is gone. A call in its hands goes on to the second, as long as
// it counts once.
func TestVanished(t *testing.T) {
	small := net.ListenConfig{Control: func(_, _ string, raw syscall.RawConn) (err error) {
		_ = raw.Control(func(socket uintptr) {
			err = syscall.SetsockoptInt(int(socket), syscall.SOL_SOCKET, syscall.SO_RCVBUF, 1)
		})
		return err
	}}
	gone, err := small.Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		conn, err := gone.Accept()
		_ = gone.Close() // no other connection comes about
		if err != nil {
			return
		}
		context.AfterFunc(t.Context(), func() { _ = conn.Close() })
		_, _ = io.WriteString(conn, "\x00\x00\x00\x04\x00\x00\x00\x00\x00") // empty settings, with which a server begins (RFC 9113, 3.4)
	}()
	var second heard
	lives := listens(t, func(_ *grpc.Server, stream grpc.ServerStream) error {
		second.hear(stream)
		return stream.SendMsg(&pb.Signup{})
	})
	target, options := dial.To([]string{gone.Addr().String(), lives})
	conn, err := grpc.NewClient(target, append(options, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close() }()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	large := &pb.JoinRideRequest{RequestId: "a", Parent: strings.Repeat("x", 60_000)}
	if _, err := pb.NewRideServiceClient(conn).JoinRide(ctx, large); err != nil {
		t.Error(err)
	}
	if got := second.calls["/gritward.v1.RideService/JoinRide"]; got != 1 {
		t.Errorf("the second had the call %d times", got)
	}
}
