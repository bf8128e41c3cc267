package web_test

import (
	"net/http"
	"strings"
	"testing"

	"gritward/internal/demo"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// TestSignedUpMeanwhile: a form that was opened before there was a sign-up does not take the place of one made meanwhile, and says
// what that is; one opened when there was one does not bring it back once it is withdrawn.
func TestSignedUpMeanwhile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const ludo = "Ludo Bascroft"
	join, mine := "/"+w.ride()+"/join", "/"+w.ride()+"/signups/"+names.Last(w.member(ludo))
	one, other := w.signIn(ludo), w.signIn(ludo)
	one.open(join).is(http.StatusOK).says("Sign up")
	stale := with(one.form(), "signup.preferred_group", "steady")
	same, wrong := with(one.form(), "once", "same", "signup.preferred_group", "easy", "signup.party", "larks"), with(one.form(), "once", "wrong", "signup.party", "\u202eevil")
	other.open(join)
	other.send(join, with(other.form(), "signup.preferred_group", "easy", "signup.party", "larks")).is(http.StatusOK).says("You are signed up")

	one.send(join, same).is(http.StatusOK).says("You are signed up") // the very same: nothing to look at
	one.send(join, wrong).is(http.StatusUnprocessableEntity)
	one.send(join, with(one.form(), "signup.party", "wrens")).is(http.StatusConflict).says("You were signed up while this form was open")
	one.send(join, stale).is(http.StatusConflict).says("You were signed up while this form was open, on another device of yours or by a leader",
		"Group you would like : now “Easy”; yours stands below", "Ride together with : now “larks”; it is taken over below", "Keep the change").saysNot("clubs/")
	kept := one.form()
	if kept.Get("signup.preferred_group") != "steady" || kept.Get("signup.party") != "larks" {
		t.Errorf("the form has %v", kept)
	}
	one.send(join, kept).is(http.StatusOK).says("Would like Steady", "larks")

	one.open(join)
	stale = with(one.form(), "once", "late", "signup.preferred_group", "easy")
	other.open(mine)
	other.send(mine+"/withdraw", other.form()).is(http.StatusOK).says("You have withdrawn")
	one.send(join, stale).is(http.StatusConflict).says("Your sign-up was withdrawn while this form was open", "nothing you typed is lost", "stand last").saysNot("clubs/")
	one.open(mine).says("You are not signed up")
	one.send(join, stale).is(http.StatusConflict)
	one.send(join, one.form()).is(http.StatusOK).says("Would like Easy")
}

// TestFirstMeanwhile: the forms of a leader's sign-up and of contacts, too, take the place of nothing that was made since they were
// opened.
func TestFirstMeanwhile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const ludo = "Ludo Bascroft"
	entry := "/" + w.ride() + "/signups/" + names.Last(w.member(ludo)) + "/change"
	leader := w.signIn(demo.Leader).open(entry).is(http.StatusOK)
	first := with(leader.filledForm(entry), "signup.bike", w.member(ludo)+"/bikes/bike-1")
	member := w.signIn(ludo).open("/" + w.ride() + "/join")
	member.send("/"+w.ride()+"/join", with(member.form(), "signup.preferred_group", "easy")).is(http.StatusOK)
	leader.send(entry, first).is(http.StatusConflict).says("This was changed while the page was open", "saving again puts yours in its place")
	leader.send(entry, leader.filledForm(entry)).is(http.StatusOK).says("The sign-up stands")

	contacts := "/" + w.member(ludo) + "/contacts"
	member.open(contacts)
	if had := member.form().Get("contacts.call[0].contact_name"); had != "" {
		t.Fatalf("there are contacts already: %s", had)
	}
	late := with(member.form(), "contacts.medical_note", "wasps")
	other := w.signIn(ludo).open(contacts)
	other.send(contacts, with(other.form(), "contacts.call[0].contact_name", "Runa Quill", "contacts.call[0].phone", "07700 900123")).is(http.StatusOK).says("Kept.")
	member.send(contacts, late).is(http.StatusConflict).says("This was changed while the page was open, on another device of yours;",
		"to call first “Runa Quill, 07700 900123”; it is taken over below", "wasps")
	other.open(contacts).says("Kept sealed")
	if got := other.form().Get("contacts.call[0].contact_name"); got != "Runa Quill" {
		t.Errorf("the first to call is %q", got)
	}
	member.send(contacts, member.form()).is(http.StatusOK).says("Kept.")

	// A person is one: nobody stands there with another's number.
	member.open(contacts)
	late = with(member.form(), "contacts.call[0].phone", "07700 900999")
	other.open(contacts)
	other.send(contacts, with(other.form(), "contacts.call[0].contact_name", "Ada Quill", "contacts.medical_note", "")).is(http.StatusOK)
	member.send(contacts, late).is(http.StatusConflict).says("now to call first “Ada Quill, 07700 900123”; yours stands below", "now “nothing”; it is taken over below")
	if got := member.form(); got.Get("contacts.call[0].contact_name") != "Runa Quill" || got.Get("contacts.call[0].phone") != "07700 900999" || got.Get("contacts.medical_note") != "" {
		t.Errorf("the form has %v", got)
	}
}

// TestSameMeanwhile: what differs in the ends of its lines, or in space around it, was not changed: a form sent twice is no change by
// another device.
func TestSameMeanwhile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const ludo = "Ludo Bascroft"
	contacts := w.member(ludo) + "/contacts"
	if _, err := pb.NewPersonalServiceClient(w.conn).SetEmergencyContacts(w.as(ludo), &pb.SetEmergencyContactsRequest{
		Contacts: &pb.EmergencyContacts{Name: contacts, MedicalNote: "wasps\nnuts"}}); err != nil {
		t.Fatal(err)
	}
	b := w.signIn(ludo).open("/" + contacts)
	sent := with(b.form(), "contacts.call[0].contact_name", "Runa Quill ", "contacts.call[0].phone", "07700 900123")
	for _, field := range []string{"contacts.medical_note", "was.contacts.medical_note"} { // as browsers send it
		sent.Set(field, strings.ReplaceAll(strings.ReplaceAll(sent.Get(field), "\r\n", "\n"), "\n", "\r\n"))
	}
	b.send("/"+contacts, sent).is(http.StatusOK).says("Kept.")
	kept, err := pb.NewPersonalServiceClient(w.conn).GetEmergencyContacts(w.as(ludo), &pb.GetEmergencyContactsRequest{Name: contacts})
	if err != nil || kept.MedicalNote != "wasps\nnuts" {
		t.Errorf("a note of two lines is kept as %q, %v", kept.GetMedicalNote(), err)
	}
	b.send("/"+contacts, sent).is(http.StatusOK).says("Kept.")
	other := with(sent, "contacts.call[0].phone", "07700 900999")
	b.send("/"+contacts, other).is(http.StatusConflict).says("now to call first").saysNot("now “wasps")
}
