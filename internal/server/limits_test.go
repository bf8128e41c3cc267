package server_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/http2"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/encoding/protowire"

	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// limitedWorld is a club on a server with limits, with its clock standing still.
func limitedWorld(t *testing.T, limits server.Limits) *world {
	t.Helper()
	w := bareWorldWithin(t, server.Forecasts{}, limits)
	w.found("fenwick", "Sec")
	return w
}

// newConn is a further connection.
func (w *world) newConn() *grpc.ClientConn {
	w.t.Helper()
	conn, err := grpc.NewClient(w.conn.Target(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		w.t.Fatal(err)
	}
	w.t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// who asks over a connection who the token belongs to, and gives the code and reason of the answer.
func (w *world) who(conn *grpc.ClientConn, token string) string {
	ctx := metadata.AppendToOutgoingContext(w.ctx, "authorization", "Bearer "+token)
	_, err := pb.NewClubServiceClient(conn).WhoAmI(ctx, &pb.WhoAmIRequest{})
	return reasonIn(err)
}

// reasonIn is the reason of an error, "" for none.
func reasonIn(err error) string {
	if err == nil {
		return ""
	}
	parts := strings.Split(told(err), " | ")
	return parts[min(1, len(parts)-1)]
}

// TestTenThousandWrongTokens guesses over real connections: only as many guesses are looked at as a minute allows. Who
// was let in goes on working from the same address; the others wait until the clock has moved.
func TestTenThousandWrongTokens(t *testing.T) {
	w := limitedWorld(t, server.Limits{FailedSignInsMin: 20})
	good := w.tokens["sec"]
	if got := w.who(w.conn, good); got != "" {
		t.Fatal(got)
	}
	const guesses, workers = 10_000, 8
	var mu sync.Mutex
	seen := map[string]int{}
	var all sync.WaitGroup
	for worker := range workers {
		conn := w.newConn()
		all.Go(func() {
			for i := range guesses / workers {
				got := w.who(conn, fmt.Sprintf("fenwick.%026d%026d", worker, i))
				mu.Lock()
				seen[got]++
				mu.Unlock()
			}
		})
	}
	all.Wait()
	// Calls under way at once may each find the last one still there.
	if looked := seen["NOT_SIGNED_IN"]; looked < 20 || looked > 20+workers || seen["TOO_MANY_SIGN_INS"] != guesses-looked {
		t.Errorf("answers: %v", seen)
	}
	if got := w.who(w.conn, good); got != "" {
		t.Errorf("the member who is let in: %s", got)
	}
	_, err := pb.NewClubServiceClient(w.newConn()).AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: "fenwick.x", DeviceTitle: "x"})
	if got := reasonIn(err); got != "TOO_MANY_SIGN_INS" {
		t.Errorf("an invite: %s", told(err))
	}
	fresh := w.newConn()
	if got := w.who(fresh, good); got != "TOO_MANY_SIGN_INS" {
		t.Errorf("a good token on a new connection is looked at: %s", got)
	}
	w.setClock(w.clock().Add(time.Minute))
	if got := w.who(fresh, good); got != "" {
		t.Errorf("a minute later: %s", got)
	}
}

// TestInviteGuesses counts as sign-ins that failed.
func TestInviteGuesses(t *testing.T) {
	w := limitedWorld(t, server.Limits{FailedSignInsMin: 5})
	seen := map[string]int{}
	conn := w.newConn()
	for i := range 50 {
		_, err := pb.NewClubServiceClient(conn).AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: fmt.Sprint("fenwick.", i), DeviceTitle: "x"})
		seen[reasonIn(err)]++
	}
	if seen["INVITE_NOT_GOOD"] != 5 || seen["TOO_MANY_SIGN_INS"] != 45 {
		t.Errorf("%v", seen)
	}
}

// TestCallsMeasured holds a device, and an address, to their calls a minute; another device is not held for the first.
func TestCallsMeasured(t *testing.T) {
	w := limitedWorld(t, server.Limits{DeviceCallsMin: 60})
	w.member("Mia", nil) // takes one call of the secretary
	passed := func(token string, calls int) (n int) {
		for range calls {
			if got := w.who(w.conn, token); got == "" {
				n++
			} else if got != "TOO_MANY_CALLS" {
				t.Error(got)
			}
		}
		return n
	}
	if n := passed(w.tokens["sec"], 100); n != 59 {
		t.Errorf("%d calls of the secretary passed", n)
	}
	if n := passed(w.tokens["mia"], 100); n != 60 {
		t.Errorf("%d calls of another passed", n)
	}
	w.setClock(w.clock().Add(10 * time.Second))
	if n := passed(w.tokens["sec"], 100); n != 10 {
		t.Errorf("%d calls passed 10 s later, at 60 a minute", n)
	}
	w = limitedWorld(t, server.Limits{AddressCallsMin: 100}) // the invite took one
	if n := passed(w.tokens["sec"], 200); n != 99 {
		t.Errorf("%d calls of an address passed", n)
	}
	if got := w.who(w.newConn(), "nonsense"); got != "TOO_MANY_CALLS" {
		t.Errorf("another connection from there: %s", got)
	}
}

// TestConnections: those beyond the limit are refused with a reason, those far beyond it closed; the place of one that
// ends is free again.
func TestConnections(t *testing.T) {
	w := limitedWorld(t, server.Limits{AddressConnections: 4})
	var raw []net.Conn
	dial := func() net.Conn {
		conn, err := net.Dial("tcp", w.conn.Target())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = conn.Close() })
		raw = append(raw, conn)
		return conn
	}
	for range 3 { // with that of the world 4
		settings(t, dial())
	}
	if got := w.who(w.conn, w.tokens["sec"]); got != "" {
		t.Errorf("the first connection: %s", got)
	}
	for range 3 { // 5 to 7
		settings(t, dial())
	}
	crowded := w.newConn() // the eighth
	if got := w.who(crowded, w.tokens["sec"]); got != "TOO_MANY_CONNECTIONS" {
		t.Errorf("the eighth: %s", got)
	}
	if _, err := dial().Read(make([]byte, 1)); err == nil {
		t.Error("the ninth was taken")
	}
	for _, conn := range raw {
		_ = conn.Close()
	}
	_ = crowded.Close()
	for w.ctx.Err() == nil { // the server comes to know of it in its own time
		conn := w.newConn()
		got := w.who(conn, w.tokens["sec"])
		_ = conn.Close()
		if got == "" {
			return
		}
	}
	t.Error("the places were never free again")
}

// settings begins HTTP/2 on a connection and reads what the server says first.
func settings(t *testing.T, conn net.Conn) (*http2.Framer, *http2.SettingsFrame) {
	t.Helper()
	framer := http2.NewFramer(conn, conn)
	if _, err := io.WriteString(conn, http2.ClientPreface); err != nil {
		t.Fatal(err)
	}
	if err := framer.WriteSettings(); err != nil {
		t.Fatal(err)
	}
	frame, err := framer.ReadFrame()
	if err != nil {
		t.Fatal(err)
	}
	said, ok := frame.(*http2.SettingsFrame)
	if !ok {
		t.Fatalf("the server began with %v", frame)
	}
	return framer, said
}

// TestTransportLimits reads back, with another implementation of HTTP/2 (RFC 9113), how many streams the server takes,
// and pings more often than it allows: it ends the connection with ENHANCE_YOUR_CALM (gRPC's rule for keepalive).
func TestTransportLimits(t *testing.T) {
	w := limitedWorld(t, server.Limits{})
	conn, err := net.Dial("tcp", w.conn.Target())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close() }()
	framer, said := settings(t, conn)
	if n, ok := said.Value(http2.SettingMaxConcurrentStreams); !ok || n != 64 {
		t.Errorf("%d streams, %v", n, ok)
	}
	for i := range 8 {
		if err := framer.WritePing(false, [8]byte{byte(i)}); err != nil {
			break // ended already
		}
	}
	for {
		frame, err := framer.ReadFrame()
		if err != nil {
			t.Fatalf("ended without a word: %v", err)
		}
		if away, ok := frame.(*http2.GoAwayFrame); ok {
			if away.ErrCode != http2.ErrCodeEnhanceYourCalm {
				t.Errorf("ended with %v", away)
			}
			return
		}
	}
}

// TestSilentConnection says nothing: the server ends it.
func TestSilentConnection(t *testing.T) {
	w := limitedWorld(t, server.Limits{Handshake: 50 * time.Millisecond})
	conn, err := net.Dial("tcp", w.conn.Target())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close() }()
	ended := context.AfterFunc(w.ctx, func() { _ = conn.Close() })
	defer ended()
	if _, err := io.Copy(io.Discard, conn); err != nil || w.ctx.Err() != nil {
		t.Errorf("not ended by the server: %v", err)
	}
}

// TestMessageSizes: a method without a file takes half a MiB, one with a file that and the file.
func TestMessageSizes(t *testing.T) {
	w := limitedWorld(t, server.Limits{})
	junk := func(size int) []byte {
		return protowire.AppendBytes(protowire.AppendTag(nil, 4095, protowire.BytesType), bytes.Repeat([]byte("j"), size))
	}
	for _, test := range []struct {
		size int
		want string
	}{{400 << 10, ""}, {600 << 10, "MESSAGE_TOO_LARGE"}, {5 << 20, "MESSAGE_TOO_LARGE"}} {
		request := &pb.WhoAmIRequest{}
		request.ProtoReflect().SetUnknown(junk(test.size))
		if _, err := w.clubs.WhoAmI(w.as("sec"), request); reasonIn(err) != test.want {
			t.Errorf("%d bytes: %s", test.size, told(err))
		}
	}
	policy := &pb.CheckPolicyRequest{Parent: club, Content: bytes.Repeat([]byte("# "), 500<<10)}
	if _, err := w.policies.CheckPolicy(w.as("sec"), policy); err != nil {
		t.Errorf("a policy of 1000 KiB: %s", told(err))
	}
	policy.ProtoReflect().SetUnknown(junk(1 << 20))
	if _, err := w.policies.CheckPolicy(w.as("sec"), policy); reasonIn(err) != "MESSAGE_TOO_LARGE" {
		t.Errorf("and 1 MiB more: %s", told(err))
	}
	_, err := w.rides.CreateRide(w.as("sec"), &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteGpx: make([]byte, 16<<20)}, grpc.MaxCallSendMsgSize(32<<20))
	if got := reasonIn(err); got == "MESSAGE_TOO_LARGE" || got == "" {
		t.Errorf("a route of 16 MiB: %s", told(err))
	}
}

// TestAddresses: one household is one address, however it writes it (RFC 4291, RFC 6177).
func TestAddresses(t *testing.T) {
	for from, want := range map[string]string{
		"192.0.2.7:1": "192.0.2.7", "[::ffff:192.0.2.7]:2": "192.0.2.7", "[2001:db8:1:2::a]:3": "2001:db8:1:2::/64",
		"[2001:db8:1:2:ffff::b]:4": "2001:db8:1:2::/64", "[2001:db8:1:3::a]:3": "2001:db8:1:3::/64",
	} {
		at, err := net.ResolveTCPAddr("tcp", from)
		if err != nil {
			t.Fatal(err)
		}
		if got := server.AddressOf(at); got != want {
			t.Errorf("%s counts as %s, want %s", from, got, want)
		}
	}
	if got := server.AddressOf(&net.UnixAddr{Name: "/run/x", Net: "unix"}); got != "/run/x" {
		t.Errorf("got %s", got)
	}
}
