package server_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "gritward/proto/gritward/v1"
)

func (w *world) invite(as string, made *pb.Invite) *pb.Invite {
	w.t.Helper()
	invite, err := w.clubs.CreateInvite(w.as(as), &pb.CreateInviteRequest{Parent: club, Invite: made})
	if err != nil {
		w.t.Fatal(told(err))
	}
	return invite
}

// refused tries a code, and wants it refused.
func (w *world) refused(code, why string) {
	w.t.Helper()
	_, err := w.clubs.AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: code, DeviceTitle: "test"})
	if !strings.Contains(told(err), "INVITE_NOT_GOOD") {
		w.t.Errorf("an invite %s: %s", why, told(err))
	}
}

func (w *world) invites(all bool) (ids []string) {
	w.t.Helper()
	token := ""
	for {
		answer, err := w.clubs.ListInvites(w.as("sec"), &pb.ListInvitesRequest{Parent: club, All: all, PageSize: 2, PageToken: token})
		if err != nil {
			w.t.Fatal(told(err))
		}
		for _, invite := range answer.Invites {
			if invite.Code != "" {
				w.t.Errorf("the code of %s is told", invite.Name)
			}
			ids = append(ids, invite.DisplayName)
		}
		if token = answer.NextPageToken; token == "" {
			return ids
		}
	}
}

// TestInvites lists invites by pages, newest first, and withdraws one; a code is good only once, and no code that was
// withdrawn, expired or changed is good at all.
func TestInvites(t *testing.T) {
	w := newWorld(t)
	made := map[string]*pb.Invite{}
	for _, name := range []string{"Ann", "Bob", "Cyd", "Dan", "Eve"} {
		w.setClock(w.clock().Add(time.Hour))
		made[name] = w.invite("sec", &pb.Invite{DisplayName: name})
	}
	w.accept(made["Bob"].Code)
	withdrawn, err := w.clubs.WithdrawInvite(w.as("sec"), &pb.WithdrawInviteRequest{Name: made["Cyd"].Name})
	if err != nil || !withdrawn.WithdrawnAt.AsTime().Equal(w.clock()) {
		t.Fatalf("withdrawn: %v, %s", withdrawn, told(err))
	}
	w.setClock(w.clock().Add(time.Hour))
	again, err := w.clubs.WithdrawInvite(w.as("sec"), &pb.WithdrawInviteRequest{Name: made["Cyd"].Name})
	if err != nil || !again.WithdrawnAt.AsTime().Equal(withdrawn.WithdrawnAt.AsTime()) {
		t.Errorf("withdrawn twice: %v, %s", again, told(err))
	}
	for name, err := range map[string]error{
		"FailedPrecondition | WRONG_STATE | the invite was used: bob came of it; suspend the member, or shut the device out": w.withdraw(made["Bob"].Name),
		"NotFound | NOT_FOUND | there is no " + club + "/invites/none":                                                       w.withdraw(club + "/invites/none"),
	} {
		if told(err) != name {
			t.Errorf("got %q, want %q", told(err), name)
		}
	}
	if got, want := strings.Join(w.invites(false), " "), "Eve Dan Ann"; got != want {
		t.Errorf("open: %s, want %s", got, want)
	}
	if got, want := strings.Join(w.invites(true), " "), "Eve Dan Cyd Bob Ann Sec"; got != want {
		t.Errorf("all: %s, want %s", got, want)
	}
	w.refused(made["Bob"].Code, "used already")
	w.refused(made["Cyd"].Code, "withdrawn")
	w.refused(made["Eve"].Code[:len(made["Eve"].Code)-1], "cut short")
	w.refused("elsewhere"+strings.TrimPrefix(made["Eve"].Code, "fenwick"), "of another club")
	w.accept(made["Dan"].Code)
	w.setClock(made["Eve"].ExpiresAt.AsTime())
	w.refused(made["Ann"].Code, "past its time")
	w.accept(made["Eve"].Code) // good at the last instant
}

func (w *world) withdraw(name string) error {
	_, err := w.clubs.WithdrawInvite(w.as("sec"), &pb.WithdrawInviteRequest{Name: name})
	return err
}

func (w *world) suspendAs(as, id string) error {
	_, err := w.clubs.SuspendMember(w.as(as), &pb.SuspendMemberRequest{Name: club + "/members/" + id})
	return err
}

func (w *world) reinstate(id string) error {
	_, err := w.clubs.ReinstateMember(w.as("sec"), &pb.ReinstateMemberRequest{Name: club + "/members/" + id})
	return err
}

func (w *world) rolesAs(as, id string, roles ...pb.Role) error {
	_, err := w.clubs.UpdateMember(w.as(as), &pb.UpdateMemberRequest{
		Member: &pb.Member{Name: club + "/members/" + id, Roles: roles}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"roles"}}})
	return err
}

// TestSuspended shuts a member out from every device, lets them in again, and withdraws what a suspended secretary had
// handed out.
func TestSuspended(t *testing.T) {
	w := newWorld(t)
	w.member("Mia", nil)
	w.member("Tom", nil, pb.Role_SECRETARY)
	further := w.invite("sec", &pb.Invite{ForMember: club + "/members/mia"})
	back := w.invite("tom", &pb.Invite{DisplayName: "Tom again", Roles: []pb.Role{pb.Role_SECRETARY}})
	for _, id := range []string{"mia", "tom", "tom"} { // twice is once
		if err := w.suspendAs("sec", id); err != nil {
			t.Fatal(told(err))
		}
		_, err := w.clubs.WhoAmI(w.as(id), &pb.WhoAmIRequest{})
		if want := "PermissionDenied | NOT_ALLOWED | you are suspended; ask a secretary of the club"; told(err) != want {
			t.Errorf("%s: %s", id, told(err))
		}
	}
	w.refused(further.Code, "for a further device of a suspended member")
	w.refused(back.Code, "made by a secretary who is suspended")
	for range 2 {
		member, err := w.clubs.ReinstateMember(w.as("sec"), &pb.ReinstateMemberRequest{Name: club + "/members/mia"})
		if err != nil || member.SuspendedAt != nil {
			t.Fatal(told(err))
		}
	}
	if _, err := w.clubs.WhoAmI(w.as("mia"), &pb.WhoAmIRequest{}); err != nil {
		t.Errorf("reinstated, and refused: %s", told(err))
	}
	w.accept(further.Code)
	_, err := w.clubs.SuspendMember(w.as("sec"), &pb.SuspendMemberRequest{Name: club + "/members/mia", Etag: "stale"})
	if !strings.Contains(told(err), "CHANGED_MEANWHILE") {
		t.Errorf("by a stale etag: %s", told(err))
	}
}

// TestLastSecretary keeps a club from being left without a secretary: not by themself, not by another, not by counting
// one who is suspended; handing over works.
func TestLastSecretary(t *testing.T) {
	w := newWorld(t)
	w.member("Tom", nil)
	const last = "FailedPrecondition | LAST_SECRETARY | Sec is the club's last secretary who can act; make another member secretary first"
	want := func(what string, err error, want string) {
		t.Helper()
		if told(err) != want {
			t.Errorf("%s: %s, want %s", what, told(err), want)
		}
	}
	want("steps down", w.rolesAs("sec", "sec", pb.Role_MEMBER), last)
	want("suspends themself", w.suspendAs("sec", "sec"), last)
	want("gives the role", w.rolesAs("sec", "tom", pb.Role_MEMBER, pb.Role_SECRETARY), "no error")
	want("suspends the other", w.suspendAs("sec", "tom"), "no error")
	want("steps down beside one suspended", w.rolesAs("sec", "sec", pb.Role_MEMBER), last)
	want("takes the role of one suspended", w.rolesAs("sec", "tom", pb.Role_MEMBER), "no error")
	want("gives it again", w.rolesAs("sec", "tom", pb.Role_MEMBER, pb.Role_SECRETARY), "no error")
	if err := w.reinstate("tom"); err != nil {
		t.Fatal(told(err))
	}
	open := w.invite("sec", &pb.Invite{DisplayName: "Sec again", Roles: []pb.Role{pb.Role_SECRETARY}})
	want("hands over", w.rolesAs("sec", "sec", pb.Role_MEMBER), "no error")
	w.refused(open.Code, "made by a secretary who stepped down")
	if err := w.suspendAs("tom", "tom"); !strings.Contains(told(err), "LAST_SECRETARY | Tom is") {
		t.Errorf("the next last secretary: %s", told(err))
	}
}

// TestWhoAmITellsTheTime: it is told by the server's clock, by which clients tell what is past.
func TestWhoAmITellsTheTime(t *testing.T) {
	w := newWorld(t)
	w.setClock(friday.Add(90 * time.Minute))
	if is, err := w.clubs.WhoAmI(w.as("sec"), &pb.WhoAmIRequest{}); err != nil || !is.GetAt().AsTime().Equal(friday.Add(90*time.Minute)) {
		t.Errorf("%v, %s", is.GetAt().AsTime(), told(err))
	}
}
