//go:build etcd

package server_test

import (
	"fmt"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// TestLetInElsewhere: whom one server lets in, shuts out, suspends or gives a role is so at once for the other, which has just answered
// and knows a state of a moment ago.
func TestLetInElsewhere(t *testing.T) {
	w := newWorld(t)
	mia := w.member("Mia", nil)
	other := w.beside()
	reason := func(err error) pb.Reason {
		if err == nil {
			return pb.Reason_REASON_UNSPECIFIED
		}
		if status.Code(err) == codes.Internal {
			t.Error(err)
		}
		return fault.Read(err).Reason
	}
	for round := range 20 {
		if _, err := other.clubs.WhoAmI(w.as("sec"), &pb.WhoAmIRequest{}); err != nil {
			t.Fatal(told(err))
		}
		made := w.invite("sec", &pb.Invite{ForMember: mia.Name})
		let, err := w.clubs.AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: made.Code, DeviceTitle: fmt.Sprint("tablet ", round)})
		if err != nil {
			t.Fatal(told(err))
		}
		tablet := metadata.AppendToOutgoingContext(w.ctx, "authorization", "Bearer "+let.Token)
		calls := func() pb.Reason {
			_, err := other.clubs.WhoAmI(tablet, &pb.WhoAmIRequest{})
			return reason(err)
		}
		invites := func() pb.Reason {
			_, err := other.clubs.ListInvites(tablet, &pb.ListInvitesRequest{Parent: club})
			return reason(err)
		}
		for _, step := range []struct {
			what string
			do   func() error
			try  func() pb.Reason
			want pb.Reason
		}{
			{"let in", func() error { return nil }, calls, 0},
			{"not a secretary", func() error { return nil }, invites, pb.Reason_NOT_ALLOWED},
			{"made a secretary", func() error { return w.rolesAs("sec", "mia", pb.Role_MEMBER, pb.Role_SECRETARY) }, invites, 0},
			{"no more", func() error { return w.rolesAs("sec", "mia", pb.Role_MEMBER) }, invites, pb.Reason_NOT_ALLOWED},
			{"suspended", func() error { return w.suspendAs("sec", "mia") }, calls, pb.Reason_NOT_ALLOWED},
			{"reinstated", func() error { return w.reinstate("mia") }, calls, 0},
			{"shut out", func() error {
				_, err := w.clubs.RevokeDevice(w.as("sec"), &pb.RevokeDeviceRequest{Name: let.Device.Name})
				return err
			}, calls, pb.Reason_NOT_SIGNED_IN},
		} {
			if err := step.do(); err != nil {
				t.Fatalf("%s: %s", step.what, told(err))
			}
			if got := step.try(); got != step.want {
				t.Fatalf("round %d, %s by one server: the other one says %v, want %v", round, step.what, got, step.want)
			}
		}
	}
}
