package server_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// TestNewestKnown has two secretaries begin from the same policy: who comes second is told, whether adopting or restoring, and
// can go on having seen it. Who does not say what was seen is taken.
func TestNewestKnown(t *testing.T) {
	w := newWorld(t)
	adopt := func(more string, known *int32) (*pb.PolicyRevision, error) {
		return w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "p.yaml",
			Content: append(stricter(t), more...), NewestKnown: known})
	}
	if made, err := adopt("# one\n", proto.Int32(1)); err != nil || made.Number != 2 {
		t.Fatal(made, err)
	}
	if _, err := adopt("# two\n", proto.Int32(1)); fault.Read(err).Reason != pb.Reason_CHANGED_MEANWHILE || !strings.Contains(told(err), "policy 2 was adopted meanwhile") {
		t.Error(err)
	}
	restore := &pb.RestorePolicyRequest{Name: club + "/policies/1", NewestKnown: proto.Int32(1)}
	if _, err := w.policies.RestorePolicy(w.as("sec"), restore); fault.Read(err).Reason != pb.Reason_CHANGED_MEANWHILE {
		t.Error(err)
	}
	if listed, err := w.policies.ListPolicies(w.as("sec"), &pb.ListPoliciesRequest{Parent: club}); err != nil || len(listed.Policies) != 2 {
		t.Errorf("after refusals: %v, %v", listed, err)
	}
	if _, err := adopt("# two\n", proto.Int32(2)); err != nil {
		t.Error(err)
	}
	if _, err := adopt("# three\n", nil); err != nil {
		t.Error(err)
	}
}

// TestCheckTells has a file told in words, and one with errors not.
func TestCheckTells(t *testing.T) {
	w := newWorld(t)
	checked, err := w.policies.CheckPolicy(w.as("sec"), &pb.CheckPolicyRequest{Parent: club, File: "p.yaml", Content: stricter(t)})
	if err != nil || len(checked.Passages) == 0 || checked.Passages[0].FirstLine != 1 {
		t.Fatal(checked, err)
	}
	if checked, err = w.policies.CheckPolicy(w.as("sec"), &pb.CheckPolicyRequest{Parent: club, Content: []byte("title: x\n")}); err != nil || checked.Passages != nil {
		t.Fatal(checked, err)
	}
}

// TestInviteTwice sends the same invite twice: it is made once, and its code is shown once.
func TestInviteTwice(t *testing.T) {
	w := newWorld(t)
	asked := &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{DisplayName: "Per Lund"}, RequestId: "twice"}
	first, err := w.clubs.CreateInvite(w.as("sec"), asked)
	if err != nil || first.Code == "" {
		t.Fatal(first, err)
	}
	second, err := w.clubs.CreateInvite(w.as("sec"), asked)
	if err != nil || second.Name != first.Name || second.Code != "" || second.Handover != "" || second.DisplayName != "Per Lund" {
		t.Fatal(second, err)
	}
	asked.Invite.DisplayName = "Isa Mott"
	if _, err := w.clubs.CreateInvite(w.as("sec"), asked); fault.Read(err).Reason != pb.Reason_REQUEST_ID_REUSED {
		t.Error(err)
	}
	listed, err := w.clubs.ListInvites(w.as("sec"), &pb.ListInvitesRequest{Parent: club})
	if err != nil || len(listed.Invites) != 1 {
		t.Fatal(listed, err)
	}
}
