package server_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// Telephone numbers of these tests are of the range that Ofcom keeps for drama: 07700 900000 to 900999 ("Telephone numbers
// for use in TV and radio drama programmes").
var ofBen = map[string]string{"contact": "Runa Quill", "phone": "07700 900123", "medical note": "allergic to bees"}

// giveContacts has a member say whom to call.
func (w *world) giveContacts(id string, words map[string]string) error {
	_, err := w.personal.SetEmergencyContacts(w.as(id), &pb.SetEmergencyContactsRequest{Contacts: &pb.EmergencyContacts{
		Name: club + "/members/" + id + "/contacts", MedicalNote: words["medical note"],
		Call: []*pb.EmergencyContact{{ContactName: words["contact"], Phone: words["phone"], Relation: "sister"}},
	}})
	return err
}

// contactsWorld is a published ride of brisk (lea leads, ben) and easy (ada leads, bo); ben gave contacts.
func contactsWorld(t *testing.T) (*world, *pb.Ride) {
	w := newWorld(t)
	people(w)
	w.member("Lou", nil, pb.Role_LEADER)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	issue := w.publish("lea", ride.Name)
	if groupOf(issue, "ben") != "brisk" || groupOf(issue, "ada") != "easy" {
		t.Fatalf("placed otherwise: %v", issue.Placement)
	}
	if err := w.giveContacts("ben", ofBen); err != nil {
		t.Fatal(told(err))
	}
	return w, ride
}

// marked has lea mark a rider, as of the world's clock.
func (w *world) marked(ride *pb.Ride, name, id string, what pb.Mark_What) {
	w.t.Helper()
	_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Early: true, Marks: []*pb.Mark{{
		Name: ride.Name + "/marks/" + name, Member: club + "/members/" + id, What: what, At: timestamppb.New(w.clock())}}})
	if err != nil {
		w.t.Fatal(told(err))
	}
}

func (w *world) readContacts(as string, ride *pb.Ride, id string) (*pb.ReadRideContactsResponse, error) {
	return w.personal.ReadRideContacts(w.as(as), &pb.ReadRideContactsRequest{Parent: ride.Name, Member: club + "/members/" + id})
}

// TestWhoReadsContacts asks for ben's contacts as everybody, before the sign-on, on the ride, and as the ride ends.
func TestWhoReadsContacts(t *testing.T) {
	w, ride := contactsWorld(t)
	start := ride.StartAt.AsTime() // Sunday 13 December 2026, 10:30
	const may, shut, not = "no error", "FailedPrecondition | CONTACTS_SHUT | ", "PermissionDenied | NOT_ALLOWED | only for those who lead the ride, or a group of it"
	home := time.Date(2026, 12, 13, 16, 0, 0, 0, time.UTC)
	steps := []struct {
		what    string
		at      time.Time
		before  func()
		leaders string // what lea, who leads the ride, and ada, who leads a group of it, are told
	}{
		{"two days before", start.Add(-39 * time.Hour), nil, shut + "emergency contacts can be read of riders who have signed on, and at the earliest 12 hours before the start: from Sat 12 Dec 2026 22:30"},
		{"before the sign-on", start.Add(-time.Hour), nil, shut + "Ben has not signed on: emergency contacts can be read from the rider's sign-on"},
		{"signed on", start.Add(-30 * time.Minute), func() { w.marked(ride, "m1", "ben", pb.Mark_SIGNED_ON) }, may},
		{"out", start.Add(2 * time.Hour), func() { w.marked(ride, "m2", "ben", pb.Mark_SET_OFF) }, may},
		{"home", home, func() { w.marked(ride, "m3", "ben", pb.Mark_HOME) }, may},
		{"never closed, at the end of the next day and 6 hours", time.Date(2026, 12, 15, 5, 59, 59, 0, time.UTC), nil, may},
		{"later", time.Date(2026, 12, 15, 6, 0, 0, 0, time.UTC), nil, shut + "the ride was not closed, and counts as closed at the end of the day after its planned home; by the policy of its day emergency contacts could be read until 6 hours after that: until Tue 15 Dec 2026 06:00"},
	}
	for _, step := range steps {
		w.setClock(step.at)
		if step.before != nil {
			step.before()
		}
		for who, want := range map[string]string{"lea": step.leaders, "ada": step.leaders, "sec": not, "lou": not, "bo": not, "ben": not, "mia": not} {
			answer, err := w.readContacts(who, ride, "ben")
			if got := told(err); got != want {
				t.Errorf("%s, %s: %s\nwant %s", step.what, who, got, want)
			}
			if err == nil && (len(answer.Riders) != 1 || answer.Riders[0].Contacts.Call[0].Phone != ofBen["phone"] || answer.Riders[0].Contacts.Etag != "") {
				t.Errorf("%s, %s: %v", step.what, who, answer)
			}
		}
	}
}

// TestContactsAfterClosing: six hours after the closing, as the policy says; closing it late opens nothing again.
func TestContactsAfterClosing(t *testing.T) {
	w, ride := contactsWorld(t)
	w.setClock(ride.StartAt.AsTime())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		w.marked(ride, "on-"+id, id, pb.Mark_SIGNED_ON)
	}
	w.setClock(time.Date(2026, 12, 13, 17, 0, 0, 0, time.UTC))
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		w.marked(ride, "home-"+id, id, pb.Mark_HOME)
	}
	closing := func() {
		t.Helper()
		if _, err := w.rolls.CloseRide(w.as("lea"), &pb.CloseRideRequest{Name: ride.Name}); err != nil {
			t.Fatal(told(err))
		}
	}
	closing()
	w.setClock(time.Date(2026, 12, 13, 22, 59, 59, 0, time.UTC))
	answer, err := w.readContacts("lea", ride, "ben")
	if err != nil || !answer.UntilAt.AsTime().Equal(time.Date(2026, 12, 13, 23, 0, 0, 0, time.UTC)) {
		t.Errorf("%v, %s", answer, told(err))
	}
	w.setClock(time.Date(2026, 12, 13, 23, 0, 0, 0, time.UTC))
	_, err = w.readContacts("lea", ride, "ben")
	if want := "the ride is closed; by the policy of its day emergency contacts could be read until 6 hours after that: until Sun 13 Dec 2026 23:00"; !strings.HasSuffix(told(err), want) {
		t.Errorf("%s\nwant %s", told(err), want)
	}
	if _, err := w.rolls.ReopenRide(w.as("sec"), &pb.ReopenRideRequest{Name: ride.Name, Reason: "one more to look for"}); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(time.Date(2026, 12, 20, 12, 0, 0, 0, time.UTC))
	closing()
	if _, err = w.readContacts("lea", ride, "ben"); !strings.Contains(told(err), "CONTACTS_SHUT") {
		t.Errorf("closed a week later: %s", told(err))
	}
}

// TestReadGroupContacts reads a group at once: who has signed on is told, who has not is said, each reading is written down and
// shown to its member, in the log without what was read.
func TestReadGroupContacts(t *testing.T) {
	w, ride := contactsWorld(t)
	w.setClock(ride.StartAt.AsTime())
	w.marked(ride, "m1", "ben", pb.Mark_SIGNED_ON)
	before := len(w.auditLog())
	answer, err := w.personal.ReadRideContacts(w.as("lea"), &pb.ReadRideContactsRequest{Parent: ride.Name, Group: "brisk"})
	if err != nil {
		t.Fatal(told(err))
	}
	got := map[string]string{}
	for _, rider := range answer.Riders {
		got[rider.DisplayName] = rider.Withheld + "|" + rider.Contacts.GetMedicalNote()
	}
	const unsigned = "has not signed on: emergency contacts can be read from the rider's sign-on|"
	if len(got) != 2 || got["Ben"] != "|allergic to bees" || got["Lea"] != unsigned {
		t.Errorf("%q", got)
	}
	if left := w.auditLog()[before:]; len(left) != 1 || left[0].Resource != club+"/members/ben/contacts" || left[0].Actor != club+"/members/lea" {
		t.Errorf("left %v", left)
	}
	readings, err := w.personal.ListContactReadings(w.as("ben"), &pb.ListContactReadingsRequest{Parent: club + "/members/ben"})
	if err != nil || len(readings.Readings) != 1 {
		t.Fatalf("%v, %s", readings, told(err))
	}
	if one := readings.Readings[0]; one.ReaderName != "Lea" || one.RideTitle != "Four Becks" || one.Ride != ride.Name || !one.At.AsTime().Equal(w.clock()) {
		t.Errorf("%v", one)
	}
	for _, wrong := range []*pb.ReadRideContactsRequest{
		{Parent: ride.Name}, {Parent: ride.Name, Group: "brisk", Member: club + "/members/ben"}, {Parent: ride.Name, Group: "none"},
		{Parent: ride.Name, Member: club + "/members/mia"}, {Parent: ride.Name, Member: "clubs/elsewhere/members/ben"}, {Parent: ride.Name, Member: club + "/members/-"},
	} {
		if _, err := w.personal.ReadRideContacts(w.as("lea"), wrong); !strings.HasPrefix(told(err), "InvalidArgument | FIELD_INVALID") {
			t.Errorf("%v: %s", wrong, told(err))
		}
	}
}

// TestReadingsByPages reads many readings, newest first.
func TestReadingsByPages(t *testing.T) {
	w, ride := contactsWorld(t)
	w.setClock(ride.StartAt.AsTime())
	w.marked(ride, "m1", "ben", pb.Mark_SIGNED_ON)
	for range 5 {
		if _, err := w.readContacts("ada", ride, "ben"); err != nil {
			t.Fatal(told(err))
		}
	}
	var got []string
	for token := ""; ; {
		page, err := w.personal.ListContactReadings(w.as("ben"), &pb.ListContactReadingsRequest{Parent: club + "/members/ben", PageSize: 2, PageToken: token})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, one := range page.Readings {
			got = append(got, one.Name[strings.LastIndex(one.Name, "/")+1:])
		}
		if token = page.NextPageToken; token == "" {
			break
		}
	}
	if strings.Join(got, " ") != "5 4 3 2 1" {
		t.Errorf("%v", got)
	}
}

// TestContactsRefused gives contacts that are not as they must be; nothing of them is kept.
func TestContactsRefused(t *testing.T) {
	w := newWorld(t)
	w.member("Ben", nil)
	mine := club + "/members/ben/contacts"
	good := &pb.EmergencyContact{ContactName: "Runa Quill", Phone: "07700 900123"}
	for what, contacts := range map[string]*pb.EmergencyContacts{
		"four":            {Name: mine, Call: []*pb.EmergencyContact{good, good, good, good}},
		"no name":         {Name: mine, Call: []*pb.EmergencyContact{{Phone: "07700 900123"}}},
		"blank name":      {Name: mine, Call: []*pb.EmergencyContact{{ContactName: " \t ", Phone: "07700 900123"}}},
		"no digits":       {Name: mine, Call: []*pb.EmergencyContact{{ContactName: "Runa", Phone: "call her"}}},
		"control":         {Name: mine, Call: []*pb.EmergencyContact{{ContactName: "Runa\x1b[2J", Phone: "07700 900123"}}},
		"right to left":   {Name: mine, Call: []*pb.EmergencyContact{{ContactName: "Runa", Phone: "\u202e321009 00770"}}},
		"huge note":       {Name: mine, MedicalNote: strings.Repeat("x", 301)},
		"not in the club": {Name: "clubs/elsewhere/members/ben/contacts", Call: []*pb.EmergencyContact{good}},
		"a stale etag":    {Name: mine, Etag: "stale", Call: []*pb.EmergencyContact{good}},
		"another's":       {Name: club + "/members/sec/contacts", Call: []*pb.EmergencyContact{good}},
		"no contacts":     nil,
	} {
		if _, err := w.personal.SetEmergencyContacts(w.as("ben"), &pb.SetEmergencyContactsRequest{Contacts: contacts}); err == nil {
			t.Errorf("%s: taken", what)
		}
	}
	got, err := w.personal.GetEmergencyContacts(w.as("ben"), &pb.GetEmergencyContactsRequest{Name: mine})
	if err != nil || len(got.Call) > 0 || got.MedicalNote != "" || got.Etag != "" {
		t.Errorf("%v, %s", got, told(err))
	}
}

// TestContactsAreSealed looks for what was given in every byte of the store and of the log, and tampers with what lies there:
// changed, cut short, another member's, another club's key.
func TestContactsAreSealed(t *testing.T) {
	w, ride := contactsWorld(t)
	if err := w.giveContacts("bo", map[string]string{"contact": "Someone Else", "phone": "07700 900456"}); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(ride.StartAt.AsTime())
	w.marked(ride, "m1", "ben", pb.Mark_SIGNED_ON)
	if _, err := w.readContacts("lea", ride, "ben"); err != nil {
		t.Fatal(told(err))
	}
	data := w.bytesKept()
	for what, secret := range ofBen {
		if bytes.Contains(data, []byte(secret)) || strings.Contains(w.log.String(), secret) {
			t.Errorf("the %s stands in the store or in the log", what)
		}
	}
	if !bytes.Contains(data, []byte("contact/ben")) {
		t.Fatal("the store is not where it was looked for")
	}
	mine := &pb.GetEmergencyContactsRequest{Name: club + "/members/ben/contacts"}
	ben, bo := w.sealed("ben"), w.sealed("bo")
	flipped := bytes.Clone(ben.Sealed)
	flipped[len(flipped)/2] ^= 1
	for what, record := range map[string]*pb.SealedRecord{
		"changed": {KeyId: ben.KeyId, Sealed: flipped}, "cut short": {KeyId: ben.KeyId, Sealed: ben.Sealed[:20]}, "empty": {KeyId: ben.KeyId},
		"another's": bo, "of another key": {KeyId: "0123456789abcdef", Sealed: ben.Sealed},
	} {
		w.putRaw("ben", record)
		_, err := w.personal.GetEmergencyContacts(w.as("ben"), mine)
		if want := "Internal | INTERNAL | the server failed; its log says more"; told(err) != want {
			t.Errorf("%s: %s", what, told(err))
		}
	}
	w.putRaw("ben", ben)
	if got, err := w.personal.GetEmergencyContacts(w.as("ben"), mine); err != nil || got.MedicalNote != ofBen["medical note"] {
		t.Errorf("put back: %v, %s", got, told(err))
	}
}

// sealed reads a member's contacts as they lie in the store.
func (w *world) sealed(member string) *pb.SealedRecord {
	w.t.Helper()
	record := &pb.SealedRecord{}
	err := w.store.View(w.ctx, "fenwick", func(tx store.Tx) error {
		data, err := tx.Get("contact/" + member)
		return errors.Join(err, proto.Unmarshal(data, record))
	})
	if err != nil || len(record.Sealed) == 0 {
		w.t.Fatalf("nothing is sealed for %s: %v", member, err)
	}
	return record
}

// putRaw puts a sealed record in the place of a member's contacts.
func (w *world) putRaw(member string, record *pb.SealedRecord) {
	w.t.Helper()
	data, err := proto.Marshal(record)
	if err == nil {
		err = w.store.Update(w.ctx, "fenwick", func(tx store.Tx) error { return tx.Put("contact/"+member, data) })
	}
	if err != nil {
		w.t.Fatal(err)
	}
}
