package cli_test

import (
	"bufio"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"

	"gritward/internal/cli"
	"gritward/internal/demo"
	"gritward/internal/ledger"
	"gritward/internal/server"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// TestRideWatch watches a ride over the end of one server and the beginning of the next on the same store: every change
// is told once, in order.
func TestRideWatch(t *testing.T) {
	alone(t)
	path, friday := filepath.Join(t.TempDir(), "club.db"), time.Date(2026, time.December, 11, 19, 0, 0, 0, time.UTC)
	clock := func() time.Time { return friday }
	opened, err := bolt.Open(bolt.Options{Path: path, Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = opened.Close() })
	l := ledger.New(opened, clock)
	code, err := server.Found(t.Context(), l, "marrowdale", &pb.Club{Title: "Marrowdale Road Club", Zone: "Europe/London"}, "Imke Vard")
	if err != nil {
		t.Fatal(err)
	}
	serve := func(address string) (*grpc.Server, string) {
		answering, err := server.New(server.Config{Ledger: l, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
		if err != nil {
			t.Fatal(err)
		}
		listener, err := net.Listen("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		go func() { _ = answering.Serve(listener) }()
		t.Cleanup(answering.Stop)
		return answering, listener.Addr().String()
	}
	first, address := serve("127.0.0.1:0")
	t.Setenv("GRITWARD_SERVER", address)
	does := func(args ...string) {
		t.Helper()
		if got := run(t, "", args...); got.code != cli.ExitOK {
			t.Fatal(args, got.err)
		}
	}
	route := filepath.Join(t.TempDir(), "four-becks.gpx")
	if err := os.WriteFile(route, demo.Route, 0o600); err != nil {
		t.Fatal(err)
	}
	does("accept", code)
	does("member", "change", "imke-vard", "--roles", "member,leader,secretary")
	does("ride", "create", "--gpx", route, "--title", "Becks", "--start", "2026-12-13 10:30", "--meet", "M", "--group", "easy:19", "--temperature", "3")
	change := func(meet string) {
		t.Helper()
		does("ride", "change", "2026-12-13-becks", "--meet", meet)
	}

	reader, writer := io.Pipe()
	errors, errWriter := io.Pipe()
	done := make(chan int, 1)
	go func() {
		done <- cli.Main(t.Context(), []string{"ride", "watch", "2026-12-13-becks", "--changes", "4"},
			cli.IO{In: strings.NewReader(""), Out: writer, Err: errWriter, Now: time.Now})
		_ = writer.Close()
	}()
	lines, said := bufio.NewScanner(reader), bufio.NewScanner(errors)
	line := func(from *bufio.Scanner, want string) {
		t.Helper()
		if !from.Scan() || !strings.Contains(from.Text(), want) {
			t.Fatalf("got %q, want %q", from.Text(), want)
		}
	}
	line(lines, "   1  Fri 11 Dec 2026 19:00  watching 2026-12-13-becks from here on")
	change("A")
	line(lines, "   2  Fri 11 Dec 2026 19:00  the leader changed meeting_point")
	change("B")
	line(lines, "   3  ")
	first.Stop()
	line(said, "the server cannot be reached; waiting for it")
	serve(address)
	change("C")
	line(lines, "   4  ")
	change("D")
	line(lines, "   5  ")
	if got := <-done; got != cli.ExitOK {
		t.Errorf("exit code %d", got)
	}

	if got := run(t, "", "ride", "watch", "2026-12-13-becks", "--after", "2", "--changes", "2", "--json"); strings.Count(got.out, "\n") != 2 ||
		!strings.Contains(got.out, `"number":"3"`) && !strings.Contains(got.out, `"number": "3"`) {
		t.Errorf("%+v", got)
	}
	if got := run(t, "", "ride", "watch", "2026-12-13-becks", "--after", "99"); got.code == cli.ExitOK || !strings.Contains(got.err, "has come to change 5 only") {
		t.Errorf("%+v", got)
	}
	if got := run(t, "", "ride", "watch", "2026-12-14-none"); got.code == cli.ExitOK || !strings.Contains(got.err, "2026-12-13-becks") {
		t.Errorf("%+v", got)
	}
}
