package web_test

import (
	"archive/zip"
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/demo"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// TestHome shows what matters now to a member, a leader, and who is new.
func TestHome(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	b.open("/").is(http.StatusOK).says("My rides", "Four Becks", "Sunday 13 December 2026, 10:30", "Steady", "issue 1", "On mint winter bike", "My place")
	b.saysNot("Declare your bike", "You lead this ride", "overdue")
	w.signIn(demo.Leader).open("/").is(http.StatusOK).says("You lead this ride", "you lead the group").saysNot("Start line of")
	w.signIn("Ludo Bascroft").open("/").is(http.StatusOK).says("Rides", "Sign up for Four Becks").saysNot("My rides")

	code, err := pb.NewClubServiceClient(w.conn).CreateInvite(w.as(demo.Secretary), &pb.CreateInviteRequest{
		Parent: w.club(), Invite: &pb.Invite{DisplayName: `Nell "<b>" New`}})
	if err != nil {
		t.Fatal(err)
	}
	nell := w.stranger()
	nell.send("/join", url.Values{"code": {code.Code}, "device": {"phone"}, "then": {"/"}}).is(http.StatusOK).says("Declare your bike")

	// On the day of the ride the start line comes first for who leads it.
	w.clock.TurnTo(time.Date(2026, 12, 13, 9, 0, 0, 0, time.UTC))
	lead := w.signIn(demo.Leader).open("/").says("Start line of Four Becks, 10:30")
	if at, mine := strings.Index(lead.page, w.ride()+"/start"), strings.Index(lead.page, "My rides"); at < 0 || at > mine {
		t.Error("the start line does not come first")
	}
	b.open("/").saysNot("Start line of")

	// Called off, and overdue.
	rides := pb.NewRideServiceClient(w.conn)
	if _, err := rides.CallOffRide(w.as(demo.Leader), &pb.CallOffRideRequest{Name: w.ride(), Reason: "ice <likely>"}); err != nil {
		t.Fatal(err)
	}
	b.open("/").says("Called off. ice <likely>").saysNot("My place")
}

// TestJoinRide signs up, changes the bike, reads the place and why, takes it to the calendar, and withdraws.
func TestJoinRide(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const jun = "Jun Okare"
	b := w.signIn(jun)
	join, mine := "/"+w.ride()+"/join", "/"+w.ride()+"/signups/"+w.member(jun)[strings.LastIndex(w.member(jun), "/")+1:]
	b.open(mine).is(http.StatusOK).says("My place", "Steady , issue 1 of the roster", "Why", "Each group, and what would change it", "Change bike or wish")
	b.open(join).is(http.StatusOK).says("Change my sign-up", "yellow bike", "track bike", "back of the group", "Fit", "Brisk, 27 km/h")
	form := b.form()
	b.send(join, with(form, "signup.bike", w.member(jun)+"/bikes/bike-2", "signup.preferred_group", "easy", "signup.party", `<i>"orchard"`))
	b.is(http.StatusOK).says("You are signed up", "track bike", "Would like Easy", `<i>"orchard"`, "What would lift the bike")
	b.send(join, form).is(http.StatusOK) // sent twice
	b.open(join)
	if got := b.form(); got.Get("signup.preferred_group") != "easy" || !strings.HasSuffix(got.Get("signup.bike"), "bike-2") {
		t.Errorf("the form does not show what was said: %v", got)
	}
	// Of two devices that change it, the later one is told what changed, keeps what was typed, and takes the rest over.
	stale := with(b.form(), "once", "else", "signup.party", "keep me")
	b.send(join, with(b.form(), "once", "other", "signup.bike", w.member(jun)+"/bikes/bike-1", "signup.party", "larks")).is(http.StatusOK)
	b.send(join, stale).is(http.StatusConflict).says("Your sign-up was changed while this form was open, on another device of yours or by a leader",
		"Bike : now “yellow bike”; it is taken over below", "Ride together with : now “larks”; yours stands below", "nothing you typed is lost").
		saysNot("someone else", "clubs/")
	if got := b.form(); got.Get("signup.party") != "keep me" || !strings.HasSuffix(got.Get("signup.bike"), "bike-1") {
		t.Errorf("what was typed is lost: %v", got)
	}
	b.send(join, with(b.form(), "once", "again", "etag", "changed in nothing that is shown")).is(http.StatusOK).says("keep me", "yellow bike")
	me := "/" + w.member(jun)
	b.open(me)
	stale = with(b.form(), "once", "late", "member.email", "new@club.example")
	b.send(me, with(b.form(), "member.email", "other@club.example", "member.pace_min_kmh", "19.5", "member.name_public", "true")).is(http.StatusOK)
	b.send(me, stale).is(http.StatusConflict).says("This was changed while the page was open, on another device of yours or by a secretary; nothing you typed is lost",
		"From : now “19.5”; it is taken over below", "E-mail : now “other@club.example”; yours stands below", "My name may stand on pages that anybody can see : now “yes”; it is taken over").
		saysNot("clubs/")
	if got := b.form(); got.Get("member.email") != "new@club.example" || got.Get("member.pace_min_kmh") != "19.5" || got.Get("member.name_public") != "true" {
		t.Errorf("the form has %v", got)
	}
	b.send(me, with(b.form(), "etag", "changed in nothing that is shown")).is(http.StatusOK)
	b.open(me)
	if got := b.form(); got.Get("member.email") != "new@club.example" || got.Get("member.pace_min_kmh") != "19.5" {
		t.Errorf("it is now %v", got)
	}
	b.open(join).saysNot("which pace suits you")
	b.open(me)
	paced := b.form()
	b.send(me, with(paced, "once", "no pace", "member.pace_min_kmh", "", "member.pace_max_kmh", "")).is(http.StatusOK)
	b.open(join).says("You have not said which pace suits you", "you can be placed in any, the fastest too", "Say it under Me")
	b.open(me)
	b.send(me, with(b.form(), "once", "paced", "member.pace_min_kmh", paced.Get("member.pace_min_kmh"), "member.pace_max_kmh", paced.Get("member.pace_max_kmh"))).is(http.StatusOK)
	b.open(join)
	b.send(join, with(b.form(), "once", "on the track", "signup.bike", w.member(jun)+"/bikes/bike-2")).is(http.StatusOK)
	b.open(join)
	for _, bad := range [][]string{{"signup.bike", "clubs/x"}, {"signup.bike", w.member(demo.Member) + "/bikes/bike-1"},
		{"signup.preferred_group", "fastest"}, {"signup.party", strings.Repeat("x", 31)}, {"signup.party", "\u202eevil"}} {
		form := b.form()
		form.Set("once", "\xff"+bad[1][:2])
		if b.send(join, with(form, bad...)); b.status != http.StatusUnprocessableEntity && b.status != http.StatusNotFound {
			t.Errorf("%v is answered with %d:\n%s", bad, b.status, b.text())
		}
		b.open(join)
	}
	b.open(mine + "/ride.ics").is(http.StatusOK)
	if !strings.HasPrefix(b.page, "BEGIN:VCALENDAR") || !strings.Contains(b.page, "Four Becks") {
		t.Errorf("no calendar: %.300s", b.page)
	}
	rides := pb.NewRideServiceClient(w.conn)
	ride, err := rides.GetRide(w.as(demo.Leader), &pb.GetRideRequest{Name: w.ride()})
	if err != nil {
		t.Fatal(err)
	}
	ride.Groups = append(ride.Groups, &pb.Group{Id: "sprint", Title: "Sprint", PaceKmh: 38})
	if _, err := rides.UpdateRide(w.as(demo.Leader), &pb.UpdateRideRequest{Ride: ride, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"groups"}}}); err != nil {
		t.Fatal(err)
	}
	b.open(mine).is(http.StatusOK).says("Sprint does not run: ", "would let it run.")
	if told := regexp.MustCompile(`Sprint does not run: [^.]*[a-z] (One|[0-9]+) more`).FindString(b.text()); told != "" {
		t.Errorf("a full stop is missing: %s", told)
	}
	b.send(mine+"/withdraw", b.form()).is(http.StatusOK).says("You have withdrawn")
	b.open(mine).is(http.StatusOK).says("You are not signed up")
	b.open("/").says("Sign up for Four Becks").saysNot("My rides")

	// Another's place is nobody's business but the leader's.
	hettys := "/" + w.ride() + "/signups/" + w.member(demo.Member)[strings.LastIndex(w.member(demo.Member), "/")+1:]
	b.open(hettys).is(http.StatusForbidden)
	b.send(hettys+"/withdraw", url.Values{}).is(http.StatusForbidden)
	w.signIn(demo.Leader).open(hettys).is(http.StatusOK).says("Place of Hetty Marlock").saysNot("Withdraw from")
	w.stranger().open(join).is(http.StatusUnauthorized)
}

// TestWaiting signs up for a ride whose places are taken.
func TestWaiting(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	rides := pb.NewRideServiceClient(w.conn)
	ride, err := rides.CreateRide(w.as(demo.Leader), &pb.CreateRideRequest{Parent: w.club(), RouteGpx: demo.Route, Ride: &pb.Ride{
		Title: "Second Sunday", StartLocal: "2026-12-20T10:00", MeetingPoint: "Bridge", Places: 1,
		Groups: []*pb.Group{{Id: "all", Title: "All", PaceKmh: 22}}}})
	if err != nil {
		t.Fatal(err)
	}
	join := "/" + ride.Name + "/join"
	for i, name := range []string{"Jun Okare", "Noor Vasanthi", demo.Member} {
		b := w.signIn(name)
		b.open(join)
		b.send(join, with(b.form(), "signup.bike", w.member(name)+"/bikes/bike-1")).is(http.StatusOK)
		b.says([]string{"You are signed up", "you wait for one. My place", "1 rider waits before"}[i])
		b.open("/").says([]string{"No roster is published yet", "The next that comes free is yours", "1 rider waits before you"}[i])
		b.open(join)
		b.send(join, with(b.form(), "once", "again", "etag", "changed in nothing that is shown")).is(http.StatusOK).
			says([]string{"You are signed up", "you wait for one.", "you wait for one."}[i])
	}
}

// TestMe changes what is mine to change.
func TestMe(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	me := "/" + w.member(demo.Member)
	b.open(me).is(http.StatusOK).says("Hetty Marlock", "My name may stand on pages that anybody can see", "Download everything").saysNot("What a secretary decides")
	form := b.form()
	stale := b.form()
	b.send(me, with(form, "member.pace_min_kmh", "18,5", "member.email", "hetty@marrowdale.example", "member.name_public", "true")).is(http.StatusOK).says("Kept.")
	if got := b.form(); got.Get("member.pace_min_kmh") != "18.5" || got.Get("member.name_public") != "true" {
		t.Errorf("not kept: %v", got)
	}
	b.send(me, with(stale, "member.email", "typed@marrowdale.example")).is(http.StatusConflict)
	if !strings.Contains(b.page, "typed@marrowdale.example") {
		t.Error("what was typed is lost")
	}
	for _, bad := range [][]string{{"member.display_name", ""}, {"member.display_name", "\u202eevil"}, {"member.display_name", "Imke Vard"}, {"member.email", "no address"},
		{"member.pace_min_kmh", "fast"}, {"member.pace_min_kmh", "40"}, {"member.pace_max_kmh", "-1"}, {"member.display_name", strings.Repeat("🚲", 61)}} {
		b.open(me)
		b.send(me, with(b.form(), bad...)).is(http.StatusUnprocessableEntity)
	}
	b.open(me)
	b.send(me, with(b.form(), "member.display_name", `Hetty "<b>" Marlock`, "member.roles[0]", "SECRETARY", "member.may_lead", "true")).is(http.StatusOK)
	if b.says(`Hetty "<b>" Marlock`).saysNot("May lead"); strings.Contains(b.page, "<b>") {
		t.Error("a name is taken for the page")
	}
	other := w.signIn("Jun Okare")
	other.send(me, form).is(http.StatusForbidden)
	for _, path := range []string{"/devices", "/contacts", "/erase", "/bikes", "/bikes/bike-1"} {
		other.open(me + path).is(http.StatusForbidden)
	}
	secretary := "/" + w.member(demo.Secretary)
	w.signIn(demo.Secretary).open(secretary).is(http.StatusOK).says("What a secretary decides about me").open(secretary + "/change").is(http.StatusOK).says("Roles beside member")
}

// TestDevices lets one more device in by its own link, and shuts it out.
func TestDevices(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	devices := "/" + w.member(demo.Member) + "/devices"
	b.open(devices).is(http.StatusOK).says("phone (this one)")
	b.send(devices+"/new", url.Values{}).is(http.StatusOK).says("Open this on the other device", "works once")
	if !strings.Contains(b.page, "<svg") {
		t.Error("no code is drawn")
	}
	link := regexp.MustCompile(`href="` + regexp.QuoteMeta(w.pages) + `(/join/[^"]+)"`).FindStringSubmatch(b.page)[1]
	tablet := w.stranger()
	tablet.open(link)
	tablet.send("/join", url.Values{"code": {strings.TrimPrefix(link, "/join/")}, "device": {`<i>tablet`}, "then": {"/"}}).is(http.StatusOK).says("You are signed in on this device")
	b.open(devices).says("<i>tablet").saysNot("Open this on the other device")
	office := w.signIn(demo.Secretary)
	office.open(devices).is(http.StatusOK).says("Devices of "+demo.Member, "phone").saysNot("One more device of mine")
	office.open("/" + w.club() + "/members/nobody/devices").is(http.StatusNotFound)
	shut := regexp.MustCompile(`action="([^"]*/shut-out)"><p><button class="grave">Shut it out<span class="unseen">: &lt;i&gt;tablet`).FindStringSubmatch(b.page)[1]
	w.signIn("Jun Okare").send(shut, url.Values{}).is(http.StatusForbidden)
	b.send(shut, url.Values{}).is(http.StatusOK).says("The device is shut out")
	tablet.open("/").is(http.StatusUnauthorized)
	own := regexp.MustCompile(`action="([^"]*/shut-out)"><p><button class="grave">Sign out here`).FindStringSubmatch(b.page)[1]
	b.send(own, url.Values{}).is(http.StatusOK).says("Signed out")
	b.open("/").is(http.StatusUnauthorized)
}

// TestContacts says whom to call, and sees who read it.
func TestContacts(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	contacts := "/" + w.member(demo.Member) + "/contacts"
	b.open(contacts).is(http.StatusOK).says("Kept sealed", "Nobody.")
	before := b.form().Get("contacts.call[0].contact_name")
	form := with(b.form(), "contacts.call[0].contact_name", "", "contacts.call[0].phone", "", "contacts.call[0].relation", "",
		"contacts.call[1].contact_name", "", "contacts.call[1].phone", "", "contacts.call[1].relation", "",
		"contacts.call[2].contact_name", `Rena "<b>" Quill`, "contacts.call[2].phone", "07700 900123", "contacts.medical_note", "</textarea>bees")
	b.send(contacts, form).is(http.StatusOK).says("Kept.")
	got := b.form()
	if got.Get("contacts.call[0].contact_name") != `Rena "<b>" Quill` || strings.Contains(b.page, "</textarea>bees") {
		t.Errorf("before %q, now %v", before, got)
	}
	for _, bad := range [][]string{{"contacts.call[0].phone", "none"}, {"contacts.call[0].phone", ""}, {"contacts.call[1].relation", "friend"}, {"contacts.medical_note", strings.Repeat("x", 301)}} {
		b.open(contacts)
		b.send(contacts, with(b.form(), bad...)).is(http.StatusUnprocessableEntity)
	}
	b.open(contacts)
	stale := b.form()
	b.send(contacts, with(b.form(), "contacts.medical_note", "bees, wasps")).is(http.StatusOK)
	b.send(contacts, with(stale, "contacts.medical_note", "typed")).is(http.StatusConflict).says("typed")
	b.open("/clubs/%ff/members/x").is(http.StatusBadRequest)
	b.open("/?done=%ff").is(http.StatusBadRequest)
	w.clock.TurnTo(w.story.Ride.StartAt.AsTime().Add(-10 * time.Minute))
	rolls := pb.NewRollCallServiceClient(w.conn)
	if _, err := rolls.RecordMarks(w.as(demo.Leader), &pb.RecordMarksRequest{Parent: w.ride(), Marks: []*pb.Mark{{
		Name: w.ride() + "/marks/m1", Member: w.member(demo.Member), What: pb.Mark_SIGNED_ON}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := pb.NewPersonalServiceClient(w.conn).ReadRideContacts(w.as(demo.Leader), &pb.ReadRideContactsRequest{Parent: w.ride(), Member: w.member(demo.Member)}); err != nil {
		t.Fatal(err)
	}
	b.open(contacts).says("Osric Penhale, Sunday 13 December 2026", "for Four Becks")
	w.signIn(demo.Secretary).open(contacts).is(http.StatusForbidden)
}

// TestExportAndErase takes everything away, and then leaves.
func TestExportAndErase(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const ludo = "Ludo Bascroft" // on no ride to come
	b := w.signIn(ludo)
	me := "/" + w.member(ludo)
	b.send(me+"/export", url.Values{}).is(http.StatusOK)
	archive, err := zip.NewReader(bytes.NewReader([]byte(b.page)), int64(len(b.page)))
	if err != nil || len(archive.File) < 3 {
		t.Fatalf("no archive: %v", err)
	}
	w.signIn(demo.Secretary).send(me+"/export", url.Values{}).is(http.StatusForbidden)
	b.open(me+"/erase").is(http.StatusOK).says("It cannot be undone", "Type the name to confirm")
	b.send(me+"/erase", with(b.form(), "display_name", "Ludo")).is(http.StatusUnprocessableEntity)
	if !strings.Contains(b.page, `value="Ludo"`) {
		t.Error("what was typed is lost")
	}
	b.send(me+"/erase", with(b.form(), "display_name", "ludo bascroft")).is(http.StatusOK).says("Everything about you is gone")
	b.open("/").is(http.StatusUnauthorized)
}

// TestSetOffEarly: once riders set off before the planned start, nobody is offered to sign up, nor to change or withdraw a sign-up.
func TestSetOffEarly(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	start := w.story.Ride.StartAt.AsTime()
	w.clock.TurnTo(start.Add(-20 * time.Minute))
	b := w.signIn("Ludo Bascroft")
	b.open("/").is(http.StatusOK).says("Sign up for Four Becks")
	b.open("/"+w.ride()).is(http.StatusOK).says("Sign up", "Sign-up closes")
	rider := w.signIn(demo.Member)
	mine := "/" + w.ride() + "/signups/" + names.Last(w.member(demo.Member))
	rider.open("/").is(http.StatusOK).says("My place", "Change bike")
	rider.open(mine).is(http.StatusOK).says("Change bike or wish", "Withdraw from the ride")
	mark := &pb.Mark{Name: w.ride() + "/marks/off", Member: w.member(demo.Leader), What: pb.Mark_SET_OFF, At: timestamppb.New(start.Add(-25 * time.Minute))}
	if _, err := pb.NewRollCallServiceClient(w.conn).RecordMarks(w.as(demo.Leader), &pb.RecordMarksRequest{Parent: w.ride(), Marks: []*pb.Mark{mark}}); err != nil {
		t.Fatal(err)
	}
	b.open("/").is(http.StatusOK).says("Sign-up is closed").saysNot("Sign up for Four Becks")
	b.open("/"+w.ride()).is(http.StatusOK).saysNot("Sign up", "Sign-up closes")
	rider.open("/").is(http.StatusOK).says("My place").saysNot("Change bike")
	rider.open(mine).is(http.StatusOK).says("For my calendar").saysNot("Change bike", "Withdraw")
}
