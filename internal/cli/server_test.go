package cli_test

import (
	"context"
	"io"
	"log/slog"
	"net"
	"path/filepath"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"gritward/internal/ledger"
	"gritward/internal/seal"
	"gritward/internal/server"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// startServer starts a real server over a real store, on a free port, with the invented club "marrowdale" just founded,
// and gives its address and the code that makes "Imke Vard" its first secretary. The server's clock begins on Friday 11
// December 2026, 19:00 UTC, and goes on from there.
func startServer(t *testing.T) (address, inviteCode string) {
	t.Helper()
	began, friday := time.Now(), time.Date(2026, time.December, 11, 19, 0, 0, 0, time.UTC)
	clock := func() time.Time { return friday.Add(time.Since(began)) }
	opened, err := bolt.Open(bolt.Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	l := ledger.New(opened, clock)
	club := &pb.Club{Title: "Marrowdale Road Club", Zone: "Europe/London", LatitudeDeg: 54.085, LongitudeDeg: -2.285}
	code, err := server.Found(t.Context(), l, "marrowdale", club, "Imke Vard")
	if err != nil {
		t.Fatal(err)
	}
	keys, err := seal.New()
	if err != nil {
		t.Fatal(err)
	}
	answering, err := server.New(server.Config{Ledger: l, Keys: keys, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		Options: []grpc.ServerOption{grpc.ChainUnaryInterceptor(countsOnce(t))}})
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- answering.Serve(listener) }()
	t.Cleanup(func() {
		answering.Stop()
		if err := <-served; err != nil {
			t.Error(err)
		}
		if err := opened.Close(); err != nil {
			t.Error(err)
		}
	})
	return listener.Addr().String(), code
}

// countsOnce holds every command to sending what can be sent twice so that it counts once. An invite's code is told with the first
// answer alone: the command that makes one does not send it again.
func countsOnce(t *testing.T) grpc.UnaryServerInterceptor {
	return func(ctx context.Context, request any, info *grpc.UnaryServerInfo, handle grpc.UnaryHandler) (any, error) {
		sent := request.(proto.Message).ProtoReflect()
		id := sent.Descriptor().Fields().ByName("request_id")
		if _, invite := request.(*pb.CreateInviteRequest); id != nil && !invite && sent.Get(id).String() == "" {
			t.Errorf("%s came without a request_id", info.FullMethod)
		}
		return handle(ctx, request)
	}
}
