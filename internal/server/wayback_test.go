package server_test

import (
	"slices"
	"strings"
	"testing"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// TestWayBack invites secretaries by the server's own command line: who is there already is let in once more, and is no second member.
func TestWayBack(t *testing.T) {
	w := newWorld(t)
	w.member("Lea Moor", nil)
	for _, c := range []struct{ called, member string }{
		{"Sec", "sec"}, {"sec", "sec"}, {" sEC", "sec"}, {"Lea Moor", "lea-moor"}, {"Nell New", "nell-new"},
	} {
		code, known, err := server.Invite(w.ctx, w.ledger, "fenwick", c.called)
		if err != nil {
			t.Fatalf("%q: %v", c.called, err)
		}
		got := w.accept(code)
		if id := got.Name[strings.LastIndex(got.Name, "/")+1:]; id != c.member || !slices.Contains(got.Roles, pb.Role_SECRETARY) {
			t.Errorf("%q is %s, %v", c.called, id, got.Roles)
		}
		if (known != nil) != (c.member != "nell-new") {
			t.Errorf("%q: known %v", c.called, known)
		}
		if _, err := w.clubs.CreateInvite(w.as(c.member), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{DisplayName: "Somebody"}}); err != nil {
			t.Errorf("%q may not do what a secretary may: %v", c.called, err)
		}
	}
	twin := w.member("Twin", nil)
	if err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		return tx.SaveMember(&pb.Member{Name: club + "/members/other", DisplayName: "twin", Roles: []pb.Role{pb.Role_MEMBER}, JoinedAt: tx.Stamp()})
	}); err != nil {
		t.Fatal(err)
	}
	if _, _, err := server.Invite(w.ctx, w.ledger, "fenwick", "Twin"); !fault.Is(err, pb.Reason_WRONG_STATE) || !strings.Contains(err.Error(), "other or twin") && !strings.Contains(err.Error(), "twin or other") {
		t.Errorf("two of one name: %v", err)
	}
	if _, err := w.clubs.SuspendMember(w.as("sec"), &pb.SuspendMemberRequest{Name: twin.Name}); err != nil {
		t.Fatal(err)
	}
	if _, _, err := server.Invite(w.ctx, w.ledger, "fenwick", "twin"); !fault.Is(err, pb.Reason_WRONG_STATE) || !strings.Contains(err.Error(), "suspended") {
		t.Errorf("who is suspended: %v", err)
	}
}
