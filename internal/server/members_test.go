package server_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "gritward/proto/gritward/v1"
)

// TestEmailsAreHidden from all but the member and secretaries, in the list too.
func TestEmailsAreHidden(t *testing.T) {
	w := newWorld(t)
	people(w)
	const email = "bo@marrowdale.example"
	bo := club + "/members/bo"
	if _, err := w.clubs.UpdateMember(w.as("bo"), &pb.UpdateMemberRequest{
		Member: &pb.Member{Name: bo, Email: email}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"email"}}}); err != nil {
		t.Fatal(told(err))
	}
	for who, want := range map[string]string{"bo": email, "sec": email, "lea": "", "mia": ""} {
		listed, err := w.clubs.ListMembers(w.as(who), &pb.ListMembersRequest{Parent: club})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, member := range listed.Members {
			if member.Name == bo && member.Email != want {
				t.Errorf("%s lists %q", who, member.Email)
			}
		}
		if who == "mia" {
			continue // a member reads nobody else's record
		}
		if member, err := w.clubs.GetMember(w.as(who), &pb.GetMemberRequest{Name: bo}); err != nil || member.Email != want {
			t.Errorf("%s reads %q: %s", who, member.GetEmail(), told(err))
		}
	}
}

// TestInviteExpires: an invite is good for 14 days, to the second, and not a moment longer.
func TestInviteExpires(t *testing.T) {
	for late, want := range map[time.Duration]string{0: "", time.Second: "INVITE_NOT_GOOD"} {
		w := newWorld(t)
		invite, err := w.clubs.CreateInvite(w.as("sec"), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{DisplayName: "Mia"}})
		if err != nil {
			t.Fatal(told(err))
		}
		w.setClock(w.clock().Add(14*24*time.Hour + late))
		_, err = w.clubs.AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: invite.Code, DeviceTitle: "x"})
		if got := reasonIn(err); got != want {
			t.Errorf("%s late: %s", late, told(err))
		}
	}
}
