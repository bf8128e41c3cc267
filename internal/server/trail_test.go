package server_test

import (
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	"gritward/internal/fault"
	"gritward/internal/release"
	"gritward/internal/trail"
	pb "gritward/proto/gritward/v1"
)

// TestRequestIDs: the id that came with a call, or one that the server made, goes back in the headers and in the error, and stands in
// the log beside what failed; also where the call is refused before its message is read, and in a stream.
func TestRequestIDs(t *testing.T) {
	w := newWorld(t)
	call := func(given string) (header metadata.MD, err error) {
		ctx := w.as("sec")
		if given != "" {
			ctx = metadata.AppendToOutgoingContext(ctx, trail.Header, given)
		}
		_, err = w.clubs.CreateInvite(ctx, &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{DisplayName: "Una Frost", Roles: []pb.Role{pb.Role_MEMBER}}}, grpc.Header(&header))
		return header, err
	}
	if header, err := call("desk-17"); err != nil || strings.Join(header.Get(trail.Header), " ") != "desk-17" || strings.Join(header.Get("gritward-version"), " ") != release.Number() {
		t.Errorf("%v, %v", header, err)
	}
	w.held.on.Store(true)
	header, err := call("")
	made := header.Get(trail.Header)
	if len(made) != 1 || !trail.WellFormed(made[0]) || fault.Read(err).RequestID != made[0] {
		t.Fatalf("header %v, error %q", header, fault.Read(err).RequestID)
	}
	if !strings.Contains(w.log.String(), "the store is held") || !strings.Contains(lineWith(w.log.String(), "level=ERROR"), "request_id="+made[0]) {
		t.Errorf("the log does not say what failed in %s:\n%s", made[0], w.log.String())
	}
	w.held.on.Store(false)
	if header, _ := call("no good id"); len(header.Get(trail.Header)) != 1 || header.Get(trail.Header)[0] == "no good id" {
		t.Errorf("%v", header)
	}
	// A bad token is refused before the message is read.
	ctx := metadata.AppendToOutgoingContext(w.ctx, "authorization", "Bearer fenwick.none", trail.Header, "desk-18")
	if _, err := w.clubs.WhoAmI(ctx, &pb.WhoAmIRequest{}); fault.Read(err).RequestID != "desk-18" {
		t.Errorf("%v", err)
	}
	stream, err := w.rides.WatchRide(metadata.AppendToOutgoingContext(w.as("sec"), trail.Header, "desk-19"), &pb.WatchRideRequest{Name: club + "/rides/none"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := stream.Recv(); fault.Read(err).RequestID != "desk-19" {
		t.Errorf("%v", err)
	}
	if header, _ := stream.Header(); strings.Join(header.Get(trail.Header), " ") != "desk-19" {
		t.Errorf("%v", header)
	}
}

// lineWith is the first line of a text that has a word in it.
func lineWith(text, word string) string {
	for line := range strings.Lines(text) {
		if strings.Contains(line, word) {
			return line
		}
	}
	return ""
}
