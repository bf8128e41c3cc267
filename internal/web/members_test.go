package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

// hidden is the value of a hidden field of the page.
func (b *browser) hidden(name string) string {
	b.w.t.Helper()
	found := regexp.MustCompile(`name="` + regexp.QuoteMeta(name) + `" value="([^"]*)"`).FindStringSubmatch(b.page)
	if found == nil {
		b.w.t.Fatalf("%s has no field %s:\n%s", b.at, name, b.page)
	}
	return found[1]
}

// hostileNames are names that a page must show as they are, and nothing more.
var hostileNames = []string{`<script>alert(1)</script>`, `"' onload="x`, "\u202eevil", strings.Repeat("🚲", 60), "{{.Me}}"}

func TestMembers(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	members := "/" + w.club() + "/members"
	b := w.signIn(demo.Secretary)
	b.open(members).is(http.StatusOK).says("26 members", "Hetty Marlock", "ride leader", "Invite somebody")
	b.open(members+"?find=hetty").says("Hetty Marlock", "1 found").saysNot("Silas Whinfell")
	b.open(members + "?find=%3Cscript%3E").says("Nobody whose name has “<script>” in it")
	b.open(members + "?which=juniors").says("Tam Orrin-Tull").saysNot("Hetty Marlock")
	b.open(members + "?page=7").says("Hetty Marlock")

	// Roles, qualifications, a guardian.
	hetty := "/" + w.member(demo.Member)
	b.open(hetty).is(http.StatusOK).says("What a secretary decides", "Let in on")
	change := url.Values{"member.etag": {b.hidden("member.etag")}, "member.display_name": {"Hetty Marlock"}, "leader": {"true"},
		"member.may_mark_back": {"true"}, "member.junior": {"true"}, "member.guardian": {w.member("Maren Tull")}}
	b.send(hetty+"/roles", change).is(http.StatusOK).says("It is kept", "Ride leader, may mark the back and junior")
	stale := change
	b.send(hetty+"/roles", stale).is(http.StatusConflict).says("changed")
	if !strings.Contains(b.page, `name="leader" value="true" checked`) {
		t.Errorf("what was chosen is lost:\n%s", b.page)
	}
	b.open(hetty)
	change.Set("member.etag", b.hidden("member.etag"))
	change.Set("member.guardian", w.member(demo.Member))
	b.send(hetty+"/roles", change).is(http.StatusUnprocessableEntity).says("Guardian")
	for _, name := range hostileNames {
		b.open(hetty)
		change.Set("member.etag", b.hidden("member.etag"))
		change.Set("member.display_name", name)
		change.Set("member.guardian", w.member("Maren Tull"))
		b.send(hetty+"/roles", change)
		if strings.Contains(b.page, "<script>alert") || strings.Contains(b.page, `' onload="x`) {
			t.Errorf("a name is not shown as it is:\n%s", b.page)
		}
		if b.status != http.StatusOK && b.status != http.StatusUnprocessableEntity {
			t.Errorf("%q was answered with %d", name, b.status)
		}
	}
	// The last secretary stays one.
	own := "/" + w.member(demo.Secretary)
	b.send(own+"/roles", url.Values{"member.display_name": {demo.Secretary}, "leader": {"true"}}).is(http.StatusConflict).says("secretary")
	// Others may not.
	for _, name := range []string{demo.Leader, "Silas Whinfell"} {
		other := w.signIn(name)
		other.open(members).is(http.StatusForbidden)
		other.open("/" + w.club() + "/invites").is(http.StatusForbidden)
		other.send(hetty+"/roles", change).is(http.StatusForbidden)
		other.send(hetty+"/suspend", url.Values{}).is(http.StatusForbidden)
		other.send("/"+w.club()+"/invites", url.Values{"invite.display_name": {"Per Lund"}}).is(http.StatusForbidden)
	}
}

func TestSuspension(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b, osric := w.signIn(demo.Secretary), "/"+w.member(demo.Leader)
	of := w.signIn(demo.Leader)
	b.open(osric+"/suspend").is(http.StatusOK).says("refused at once", "Another must lead")
	b.send(osric+"/suspend", url.Values{"etag": {b.hidden("etag")}}).is(http.StatusOK).says("every device refused", "Another must lead", "Suspended since")
	of.open("/").is(http.StatusForbidden).says("You are suspended")
	b.send(osric+"/reinstate", url.Values{"etag": {"old"}}).is(http.StatusConflict)
	b.open(osric)
	b.send(osric+"/reinstate", url.Values{"etag": {b.hidden("etag")}}).is(http.StatusOK).says("let in again")

	// A device is shut out, and another let in.
	of = w.signIn(demo.Leader)
	b.open(osric)
	devices := regexp.MustCompile(`action="([^"]*/devices/[^"]*/shut)"`).FindAllStringSubmatch(b.page, -1)
	if len(devices) < 2 {
		t.Fatalf("%d devices:\n%s", len(devices), b.page)
	}
	for _, device := range devices {
		b.send(device[1], url.Values{}).is(http.StatusOK).says("shut out")
	}
	of.open("/").is(http.StatusUnauthorized)
	b.send(osric+"/invite", url.Values{"once": {"device-once"}}).is(http.StatusOK).says("Hand this over", demo.Leader, "not shown again")
	link := regexp.MustCompile(`href="([^"]*/join/[^"]*)"`).FindStringSubmatch(b.page)
	if link == nil || !strings.Contains(b.page, `<svg class="code"`) {
		t.Fatal(b.page)
	}
	one := w.stranger()
	one.send("/join", url.Values{"code": {link[1]}, "device": {"phone"}, "then": {"/"}}).is(http.StatusOK).says("You are signed in")
	own := "/" + w.member(demo.Secretary)
	b.send(own+"/suspend", url.Values{}).is(http.StatusConflict)
}

func TestInvites(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b, invites := w.signIn(demo.Secretary), "/"+w.club()+"/invites"
	b.open(invites).is(http.StatusOK).says("None is open")
	asked := url.Values{"invite.display_name": {"Hetty Mar1ock"}, "leader": {"true"}, "once": {b.hidden("once")}}
	b.send(invites, asked).is(http.StatusOK).says("Hand this over", "Hetty Mar1ock", "good once")
	if !strings.Contains(b.text(), demo.Member) {
		t.Errorf("whom the name can be taken for is not told:\n%s", b.text())
	}
	if got := b.page; !strings.Contains(got, w.pages+"/join/") {
		t.Error(got)
	}
	// Sent twice it is made once, and its code is not shown again.
	b.send(invites, asked).is(http.StatusOK).says("made already").saysNot("/join/")
	b.open(invites).says("Hetty Mar1ock", "Ride leader", "Made by Imke Vard")
	if n := strings.Count(b.page, "/withdraw"); n != 1 {
		t.Errorf("%d invites are open", n)
	}
	b.send(invites, url.Values{"invite.display_name": {"  "}}).is(http.StatusUnprocessableEntity).says("Name of the person")
	for _, name := range hostileNames {
		b.send(invites, url.Values{"invite.display_name": {name}})
		if strings.Contains(b.page, "<script>alert") || strings.Contains(b.page, `' onload="x`) {
			t.Errorf("a name is not shown as it is:\n%s", b.page)
		}
	}
	b.open(invites)
	withdraw := regexp.MustCompile(`action="([^"]*/withdraw)"`).FindStringSubmatch(b.page)
	b.send(withdraw[1], url.Values{}).is(http.StatusOK).says("not good any more")
	if open, err := pb.NewClubServiceClient(w.conn).ListInvites(w.as(demo.Secretary), &pb.ListInvitesRequest{Parent: w.club()}); err != nil || len(open.Invites) != strings.Count(b.page, "/withdraw") {
		t.Errorf("open: %v, %v", open, err)
	}
}
