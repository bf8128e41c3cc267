package cli_test

import (
	"context"
	"crypto/tls"
	"net"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"gritward/internal/cli"
	"gritward/internal/fault"
	"gritward/internal/transport"
	pb "gritward/proto/gritward/v1"
)

const token = "marrowdale.FORTESTSONLY"

// fakeClub answers as a test says. It stands in for the server where a real one would not fail so.
type fakeClub struct {
	pb.UnimplementedClubServiceServer
	answer func(ctx context.Context) (*pb.WhoAmIResponse, error)
	rides  pb.RideServiceServer // nil: none

	mu    sync.Mutex
	calls []metadata.MD
}

// WhoAmI implements ClubService.
func (f *fakeClub) WhoAmI(ctx context.Context, _ *pb.WhoAmIRequest) (*pb.WhoAmIResponse, error) {
	sent, _ := metadata.FromIncomingContext(ctx)
	f.mu.Lock()
	f.calls = append(f.calls, sent)
	f.mu.Unlock()
	return f.answer(ctx)
}

// serve starts the fake on a listener, with TLS when a configuration is given.
func (f *fakeClub) serve(t *testing.T, listener net.Listener, config *tls.Config) {
	t.Helper()
	var options []grpc.ServerOption
	if config != nil {
		options = append(options, grpc.Creds(credentials.NewTLS(config)))
	}
	server := grpc.NewServer(options...)
	pb.RegisterClubServiceServer(server, f)
	if f.rides != nil {
		pb.RegisterRideServiceServer(server, f.rides)
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	t.Cleanup(func() {
		server.Stop()
		if err := <-served; err != nil {
			t.Error(err)
		}
	})
}

func listen(t *testing.T) net.Listener {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return listener
}

// whoamiAgainst runs whoami against a server that gives that error.
func whoamiAgainst(t *testing.T, err error) result {
	t.Helper()
	fake := &fakeClub{answer: func(context.Context) (*pb.WhoAmIResponse, error) { return nil, err }}
	listener := listen(t)
	fake.serve(t, listener, nil)
	alone(t, "GRITWARD_SERVER", listener.Addr().String(), "GRITWARD_TOKEN", token)
	return run(t, "", "whoami")
}

// TestEveryReason: whatever reason the protocol has, the client says what to do next, and never the token.
func TestEveryReason(t *testing.T) {
	for number, name := range pb.Reason_name {
		if number == 0 {
			continue
		}
		t.Run(name, func(t *testing.T) {
			made := &fault.Error{Reason: pb.Reason(number), Message: "it is so",
				Fields: []fault.Field{{Path: "groups[0].colour", What: "is too \x1bfast"}},
				Limits: []fault.Limit{{ID: "gusts", What: "above 70 km/h"}, {ID: "clubs/fenwick/members/f9q97bjv", What: "Ben Holm is signed on"}}}
			got := whoamiAgainst(t, fault.Status(made).Err())
			if got.code != cli.ExitFailed || got.out != "" {
				t.Errorf("exit code %d, output %q", got.code, got.out)
			}
			for _, want := range []string{"gritward: it is so\n", "\n  group 1: colour: is too \ufffdfast\n",
				"\n  gusts: above 70 km/h\n", "\n  Ben Holm is signed on\n"} {
				if !strings.Contains(got.err, want) {
					t.Errorf("%q is not in %q", want, got.err)
				}
			}
			// What to do about a state depends on the state: the message and the command say it.
			if next := strings.Contains(got.err, "\n  next: "); next == (number == int32(pb.Reason_WRONG_STATE)) {
				t.Errorf("what to do next: %v, in %q", next, got.err)
			}
			if strings.Contains(got.err, "FORTESTSONLY") {
				t.Errorf("the token is told: %q", got.err)
			}
		})
	}
}

// TestForeignErrors: errors that are not of the service's making.
func TestForeignErrors(t *testing.T) {
	foreign, err := status.New(codes.NotFound, "gone").WithDetails(&errdetails.ErrorInfo{Reason: "NOT_FOUND", Domain: "elsewhere"})
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		err  error
		want string
	}{
		{"no such method", status.Error(codes.Unimplemented, "unknown method"), "is of another release, or not gritwardd"},
		{"too late", status.Error(codes.DeadlineExceeded, "late"), "no answer in time from 127.0.0.1:"},
		{"too large", status.Error(codes.ResourceExhausted, "large"), "too large for the server"},
		{"not available", status.Error(codes.Unavailable, "closing"), "start one with `gritwardd serve`, or set --server"},
		{"another service's reason", foreign.Err(), "gritward: gone\n"},
		{"no message", status.Error(codes.DataLoss, ""), "the server answered DataLoss"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := whoamiAgainst(t, test.err)
			if got.code != cli.ExitFailed || !strings.Contains(got.err, test.want) {
				t.Errorf("exit code %d, %q", got.code, got.err)
			}
			if strings.Contains(got.err, "look it up") {
				t.Errorf("a hint for another service's reason: %q", got.err)
			}
		})
	}
}

// TestCall: the token goes along, and the call has a deadline.
func TestCall(t *testing.T) {
	var deadline time.Duration
	fake := &fakeClub{answer: func(ctx context.Context) (*pb.WhoAmIResponse, error) {
		if until, ok := ctx.Deadline(); ok {
			deadline = time.Until(until)
		}
		return &pb.WhoAmIResponse{Member: &pb.Member{DisplayName: "I\x1bda"}}, nil
	}}
	listener := listen(t)
	fake.serve(t, listener, nil)
	alone(t, "GRITWARD_SERVER", listener.Addr().String(), "GRITWARD_TOKEN", token)
	if got := run(t, "", "whoami"); got.code != cli.ExitOK || strings.Contains(got.out, "\x1b") {
		t.Errorf("exit code %d, %q, %q", got.code, got.out, got.err)
	}
	if deadline <= 0 || deadline > cli.DefaultTimeout {
		t.Errorf("deadline in %s", deadline)
	}
	if sent := fake.calls[0].Get("authorization"); len(sent) != 1 || sent[0] != "Bearer "+token {
		t.Errorf("sent %q", sent)
	}
}

// TestNobodyAnswers: a closed port is told at once, with what to do.
func TestNobodyAnswers(t *testing.T) {
	listener := listen(t)
	address := listener.Addr().String()
	if err := listener.Close(); err != nil {
		t.Fatal(err)
	}
	alone(t, "GRITWARD_SERVER", address, "GRITWARD_TOKEN", token)
	got := run(t, "", "whoami", "--wait", "1ms")
	if got.code != cli.ExitFailed || !strings.Contains(got.err, "gritward: no server answers at "+address) ||
		strings.Contains(got.err, "dial") {
		t.Errorf("exit code %d, %q", got.code, got.err)
	}
}

// TestServerComesLate: a server that begins to listen while the client waits is not missed.
func TestServerComesLate(t *testing.T) {
	first := listen(t)
	address := first.Addr().String()
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	alone(t, "GRITWARD_SERVER", address, "GRITWARD_TOKEN", token)
	ended := make(chan result, 1)
	go func() { ended <- run(t, "", "whoami", "--wait", "30s") }()
	again, err := net.Listen("tcp", address)
	if err != nil {
		t.Fatalf("the port was taken meanwhile, run the test again: %v", err)
	}
	fake := &fakeClub{answer: func(context.Context) (*pb.WhoAmIResponse, error) { return &pb.WhoAmIResponse{}, nil }}
	fake.serve(t, again, nil)
	if got := <-ended; got.code != cli.ExitOK {
		t.Errorf("exit code %d, %q", got.code, got.err)
	}
}

// TestInterrupted: Ctrl-C ends a call at once.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	fake := &fakeClub{answer: func(ctx context.Context) (*pb.WhoAmIResponse, error) {
		cancel()
		<-ctx.Done()
		return nil, ctx.Err()
	}}
	listener := listen(t)
	fake.serve(t, listener, nil)
	alone(t, "GRITWARD_SERVER", listener.Addr().String(), "GRITWARD_TOKEN", token)
	var out, errOut strings.Builder
	code := cli.Main(ctx, []string{"whoami"}, cli.IO{In: strings.NewReader(""), Out: &out, Err: &errOut, Now: time.Now})
	if code != cli.ExitFailed || !strings.Contains(errOut.String(), "interrupted") {
		t.Errorf("exit code %d, %q", code, errOut.String())
	}
}

func only13(pair tls.Certificate) *tls.Config {
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS13}
}

// TestTLS: with certificates or pins named, calls go over TLS 1.3, to a server that they vouch for and to no other.
func TestTLS(t *testing.T) {
	ours, theirs := newAuthority(t), newAuthority(t)
	fake := &fakeClub{answer: func(context.Context) (*pb.WhoAmIResponse, error) { return &pb.WhoAmIResponse{}, nil }}
	secure := listen(t)
	fake.serve(t, secure, only13(ours.serverCert(t)))
	old := listen(t)
	fake.serve(t, old, &tls.Config{Certificates: []tls.Certificate{ours.serverCert(t)}, MaxVersion: tls.VersionTLS12})
	plain := listen(t)
	fake.serve(t, plain, nil)
	expired, elsewhere := listen(t), listen(t)
	fake.serve(t, expired, only13(ours.certFor(t, net.IPv4(127, 0, 0, 1), time.Now().Add(-time.Minute))))
	fake.serve(t, elsewhere, only13(ours.certFor(t, net.IPv4(192, 0, 2, 7), time.Now().Add(time.Hour))))
	pin, otherPin := transport.PinOf(ours.cert).String(), transport.PinOf(theirs.cert).String()
	empty := filepath.Join(t.TempDir(), "empty.pem")
	writeTest(t, empty, "no certificate")
	tests := []struct {
		name    string
		at      net.Listener
		ca, pin string
		want    string
	}{
		{"vouched for", secure, ours.file, "", ""},
		{"vouched for by another", secure, theirs.file, "", "its certificate is from an authority that this device does not know\n  next: paste the whole invite"},
		{"TLS 1.2", old, ours.file, "", "no TLS 1.3 with 127.0.0.1:"},
		{"no TLS at the server", plain, ours.file, "", "no TLS 1.3 with 127.0.0.1:"},
		{"no TLS at the client", secure, "", "", "if it is set up with TLS"},
		{"no certificate in the file", secure, empty, "", "holds no certificate"},
		{"the pin", secure, "", pin, ""},
		{"one of two pins", secure, "", otherPin + "," + pin, ""},
		{"another pin", secure, "", otherPin, "is not from the authority that this device was told to trust\n  next: if your club has changed the server's authority"},
		{"a pin cut short", secure, "", pin[1:], "GRITWARD_SERVER_PINS: a pin has 43 letters, digits, - and _: it was cut short"},
		{"garbage for a pin", secure, "", strings.Repeat("\u202e!", 20), "GRITWARD_SERVER_PINS: a pin has 43 letters"},
		{"the pin, TLS 1.2", old, "", pin, "no TLS 1.3 with 127.0.0.1:"},
		{"the pin, no TLS at the server", plain, "", pin, "no TLS 1.3 with 127.0.0.1:"},
		{"the pin, expired", expired, "", pin, "next: see that the clock of this device is right; if it is, tell whoever runs the server"},
		{"the pin, another address", elsewhere, "", pin, "its certificate is for 192.0.2.7, not for 127.0.0.1\n  next: give a name or address that it is for with --server"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			alone(t, "GRITWARD_SERVER", test.at.Addr().String(), "GRITWARD_TOKEN", token, "GRITWARD_CA_FILE", test.ca, "GRITWARD_SERVER_PINS", test.pin)
			before := len(fake.calls)
			got := run(t, "", "whoami", "--wait", "50ms")
			if test.want == "" {
				if got.code != cli.ExitOK || len(fake.calls) != before+1 {
					t.Errorf("exit code %d, %q", got.code, got.err)
				}
				return
			}
			if got.code != cli.ExitFailed || !strings.Contains(got.err, test.want) {
				t.Errorf("exit code %d, %q", got.code, got.err)
			}
			if len(fake.calls) != before {
				t.Error("the call, and the token with it, went through")
			}
		})
	}
}
