package server_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"strings"
	"sync/atomic"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	reflectionpb "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// paged reads all pages and gives the ids in order, the pages parted by bars.
func paged(t *testing.T, read func(token string) (ids []string, next string, err error)) string {
	t.Helper()
	var pages []string
	for token := ""; ; {
		ids, next, err := read(token)
		if err != nil {
			t.Fatal(told(err))
		}
		pages = append(pages, strings.Join(ids, " "))
		if token = next; next == "" {
			return strings.Join(pages, " | ")
		}
	}
}

// TestPages pages through a care log, declarations and sign-ups, while others sign up and withdraw.
func TestPages(t *testing.T) {
	w := newWorld(t)
	people(w)
	name := club + "/members/ben/bikes/bike-1"
	for range 4 {
		if _, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: name, Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED}}); err != nil {
			t.Fatal(told(err))
		}
		w.declare("ben", bike("winter bike", 300))
	}
	care := func(size int32) string {
		return paged(t, func(token string) (ids []string, next string, err error) {
			page, err := w.bikes.ListCare(w.as("ben"), &pb.ListCareRequest{Parent: name, PageSize: size, PageToken: token})
			for _, entry := range page.GetEntries() {
				ids = append(ids, names.Last(entry.Name))
			}
			return ids, page.GetNextPageToken(), err
		})
	}
	declared := func(size int32) string {
		return paged(t, func(token string) (ids []string, next string, err error) {
			page, err := w.bikes.ListDeclarations(w.as("ben"), &pb.ListDeclarationsRequest{Parent: name, PageSize: size, PageToken: token})
			for _, one := range page.GetDeclarations() {
				ids = append(ids, fmt.Sprint(one.Revision))
			}
			return ids, page.GetNextPageToken(), err
		})
	}
	for _, c := range []struct{ got, want string }{
		{care(0), "1 2 3 4"}, {care(4), "1 2 3 4"}, {care(3), "1 2 3 | 4"}, {care(1), "1 | 2 | 3 | 4"}, {care(2), "1 2 | 3 4"},
		{declared(0), "1 2 3 4 5"}, {declared(2), "1 2 | 3 4 | 5"}, {declared(5), "1 2 3 4 5"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} { // all at one time: in the order in which they came
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	between := func() {}
	signups := func(size int32) string {
		return paged(t, func(token string) (ids []string, next string, err error) {
			page, err := w.rides.ListSignups(w.as("lea"), &pb.ListSignupsRequest{Parent: ride.Name, PageSize: size, PageToken: token})
			for _, one := range page.GetSignups() {
				ids = append(ids, names.Last(one.Member))
			}
			between()
			return ids, page.GetNextPageToken(), err
		})
	}
	for size, want := range map[int32]string{0: "lea ben ada bo", 1: "lea | ben | ada | bo", 2: "lea ben | ada bo", 3: "lea ben ada | bo"} {
		if got := signups(size); got != want {
			t.Errorf("%d: got %q, want %q", size, got, want)
		}
	}
	between = func() { // withdraws once, after the first page; the second time it is refused, which is no matter
		_, _ = w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ben"})
	}
	if got := signups(2); got != "lea ben | ada bo" {
		t.Errorf("with one withdrawn between: %q", got)
	}
}

// TestBadPages: sizes and tokens that cannot be.
func TestBadPages(t *testing.T) {
	w := newWorld(t)
	people(w)
	name := club + "/members/ben/bikes/bike-1"
	ride := w.ride("lea", sunday()).Name
	for _, token := range []string{"x", "-1", "1.5", "99999999999999999999", "2026-12-11T19:00:00Z", strings.Repeat("9", 401)} {
		_, care := w.bikes.ListCare(w.as("ben"), &pb.ListCareRequest{Parent: name, PageToken: token})
		_, declared := w.bikes.ListDeclarations(w.as("ben"), &pb.ListDeclarationsRequest{Parent: name, PageToken: token})
		_, signups := w.rides.ListSignups(w.as("lea"), &pb.ListSignupsRequest{Parent: ride, PageToken: token})
		for _, err := range []error{care, declared, signups} {
			if got := told(err); !strings.HasPrefix(got, "InvalidArgument | FIELD_INVALID | page_token: ") {
				t.Errorf("%.30q: %s", token, got)
			}
		}
	}
	for _, size := range []int32{-1, 1001} {
		_, err := w.bikes.ListCare(w.as("ben"), &pb.ListCareRequest{Parent: name, PageSize: size})
		if got := told(err); !strings.HasPrefix(got, "InvalidArgument | FIELD_INVALID | page_size: ") {
			t.Errorf("%d: %s", size, got)
		}
	}
}

// countingConn counts what a client could send.
type countingConn struct {
	net.Conn
	sent *atomic.Int64
}

func (c countingConn) Write(b []byte) (int, error) {
	n, err := c.Conn.Write(b)
	c.sent.Add(int64(n))
	return n, err
}

// stranger is a connection of its own without a token, and how many bytes it could send.
func (w *world) stranger() (*grpc.ClientConn, *atomic.Int64) {
	w.t.Helper()
	sent := &atomic.Int64{}
	conn, err := grpc.NewClient("passthrough:///"+w.conn.Target(), grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, address string) (net.Conn, error) {
			var dialer net.Dialer
			raw, err := dialer.DialContext(ctx, "tcp", strings.TrimPrefix(address, "dns:///"))
			return countingConn{raw, sent}, err
		}))
	if err != nil {
		w.t.Fatal(err)
	}
	w.t.Cleanup(func() { _ = conn.Close() })
	return conn, sent
}

// TestStrangersAreHeldSmall: without a token a message is small, in every call that needs none; a large one ends the
// connection before it is there. With a token a large one comes through, on the same connection too.
func TestStrangersAreHeldSmall(t *testing.T) {
	w := newWorld(t)
	w.member("Lea", &pb.Member{MayLead: true}, pb.Role_LEADER)
	accept := func(size int) (string, int64) {
		conn, sent := w.stranger()
		_, err := pb.NewClubServiceClient(conn).AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: strings.Repeat("x", size)})
		return told(err), sent.Load()
	}
	if got, _ := accept(60 << 10); !strings.HasPrefix(got, "InvalidArgument | FIELD_INVALID | code: ") {
		t.Errorf("60 KiB: %s", got)
	}
	if got, _ := accept(70 << 10); got != "ResourceExhausted | MESSAGE_TOO_LARGE | the message has 71684 bytes; without a token at most 65536 are taken" {
		t.Errorf("70 KiB: %s", got)
	}
	got, sent := accept(16 << 20)
	if !strings.HasPrefix(got, "Unavailable") || sent > 8<<20 { // what the sockets hold is counted too
		t.Errorf("16 MiB: %d bytes sent, %s", sent, got)
	}
	conn, _ := w.stranger()
	_, err := healthpb.NewHealthClient(conn).Check(w.ctx, &healthpb.HealthCheckRequest{Service: strings.Repeat("x", 70<<10)})
	if status.Code(err) != codes.ResourceExhausted {
		t.Errorf("health: %s", told(err))
	}
	if got := reflected(t, w, strings.Repeat("x", 70<<10)); got != codes.ResourceExhausted {
		t.Errorf("reflection: %s", got)
	}
	if got := reflected(t, w, "gritward.v1.ClubService"); got != codes.OK {
		t.Errorf("a small reflection: %s", got)
	}
	// A member's connection, on which calls without a token were made before.
	for range 100 {
		_, _ = pb.NewClubServiceClient(conn).AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: "x"})
	}
	large := &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteGpx: make([]byte, 15<<20)}
	if _, err := pb.NewRideServiceClient(conn).CreateRide(w.as("lea"), large); !strings.Contains(told(err), "ROUTE_INVALID") {
		t.Errorf("with a token: %s", told(err))
	}
}

// reflected asks reflection for a symbol, as a stranger.
func reflected(t *testing.T, w *world, symbol string) codes.Code {
	t.Helper()
	conn, _ := w.stranger()
	stream, err := reflectionpb.NewServerReflectionClient(conn).ServerReflectionInfo(w.ctx)
	if err != nil {
		t.Fatal(err)
	}
	err = stream.Send(&reflectionpb.ServerReflectionRequest{
		MessageRequest: &reflectionpb.ServerReflectionRequest_FileContainingSymbol{FileContainingSymbol: symbol}})
	if err != nil && err != io.EOF {
		t.Fatal(err)
	}
	_, err = stream.Recv()
	return status.Code(err)
}
