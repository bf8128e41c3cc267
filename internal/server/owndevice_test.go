package server_test

import (
	"testing"
	"time"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// TestInviteDevice: a member's own invite lets one further device in, for an hour, until the next is made or a device is shut out.
func TestInviteDevice(t *testing.T) {
	w := newWorld(t)
	mia := w.member("Mia", nil).Name
	invite := func() string {
		t.Helper()
		made, err := w.clubs.InviteDevice(w.as("mia"), &pb.InviteDeviceRequest{Parent: mia})
		if err != nil {
			t.Fatal(told(err))
		}
		if made.ForMember != mia || made.CreatedBy != mia || !made.ExpiresAt.AsTime().Equal(w.clock().Add(time.Hour)) {
			t.Errorf("%v", made)
		}
		return made.Code
	}
	accept := func(code string) (*pb.AcceptInviteResponse, error) {
		return w.clubs.AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: code, DeviceTitle: "tablet"})
	}
	refused := func(what, code string) {
		t.Helper()
		if _, err := accept(code); err == nil || fault.Read(err).Reason != pb.Reason_INVITE_NOT_GOOD {
			t.Errorf("%s: %v", what, told(err))
		}
	}
	first, second := invite(), invite()
	refused("one followed by another", first)
	let, err := accept(second)
	if err != nil || let.Member.Name != mia {
		t.Fatal(let, told(err))
	}
	refused("one that was used", second)
	third := invite()
	if _, err := w.clubs.RevokeDevice(w.as("mia"), &pb.RevokeDeviceRequest{Name: let.Device.Name}); err != nil {
		t.Fatal(told(err))
	}
	refused("one from before a device was shut out", third)
	fourth := invite()
	w.setClock(w.clock().Add(time.Hour + time.Second))
	refused("one of an hour ago", fourth)
	if _, err := w.clubs.InviteDevice(w.as("mia"), &pb.InviteDeviceRequest{Parent: club + "/members/sec"}); err == nil || fault.Read(err).Reason != pb.Reason_NOT_ALLOWED {
		t.Errorf("for another member: %v", told(err))
	}
}
