package web_test

import (
	"net/http"
	"net/url"
	"runtime"
	"strings"
	"testing"

	"gritward/internal/demo"
	"gritward/internal/names"
	"gritward/internal/web"
	pb "gritward/proto/gritward/v1"
)

// issues is how many issues of Sunday's roster there are.
func (w *world) issues() int32 {
	w.t.Helper()
	ride, err := pb.NewRideServiceClient(w.conn).GetRide(w.as(demo.Leader), &pb.GetRideRequest{Name: w.ride()})
	if err != nil {
		w.t.Fatal(err)
	}
	return ride.RosterNumber
}

// TestPlaceAndPublish plays a leader's Friday evening: who rides where, a rider and a group fixed, published, and back.
func TestPlaceAndPublish(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ride := "/" + w.ride()
	place := ride + "/place"
	w.signIn(demo.Member).open(place).is(http.StatusForbidden)
	b := w.signIn(demo.Leader)
	b.open(place).is(http.StatusOK).says("Issue 1 is published, and nothing has changed since", "Jun Okare rides in Steady : back from an injury")
	if strings.Contains(b.page, "Publish issue") {
		t.Error("what is published can be published again")
	}

	// A rider, first against a hard rule, then with a reason.
	hetty := place + "/members/" + names.Last(w.member(demo.Member))
	b.open(hetty).is(http.StatusOK).says("Fix in a group", "What would change it")
	form := b.filledForm(hetty)
	form.Set("group", "easy")
	b.send(hetty, form).is(http.StatusUnprocessableEntity)
	form.Set("reason", hostile)
	b.send(hetty, form).is(http.StatusConflict).says("Hard rules are in the way", "Choose otherwise", "Why the rules are set aside",
		"I have seen what is wrong with the bike, and it rides all the same")
	form = b.filledForm(hetty)
	if form.Get("reason") != hostile || form.Get("group") != "easy" {
		t.Errorf("lost what was typed: %v", form)
	}
	form.Set("override_reason", "she rides with two spare lamps of mine")
	b.send(hetty, form).is(http.StatusConflict).says("The bike is held, since what is wrong with it is dangerous", "The bike of Hetty Marlock is held in Easy: ",
		"I have seen what is wrong with the bike, and it rides all the same")
	form = b.filledForm(hetty)
	if form.Get("held_bike_rides") != "" || form.Get("override_reason") == "" {
		t.Errorf("it is confirmed by itself, or the reason is lost: %v", form)
	}
	form.Set("held_bike_rides", "true")
	b.send(hetty, form).is(http.StatusOK).says("It is fixed", "Changed since issue 1", "two spare lamps", "Publish issue 2")
	publish := b.filledForm(place + "/publish")

	// The placement that was looked at is no longer so: nothing is published, and it is shown anew.
	group := place + "/groups/brisk"
	other := w.signIn(demo.Secretary).open(group).is(http.StatusOK)
	pinned := other.filledForm(group)
	pinned.Set("runs", "true")
	pinned.Set("reason", "the weather holds")
	other.send(group, pinned).is(http.StatusOK).says("Brisk runs")
	b.send(place+"/publish", publish).is(http.StatusConflict).says("look at the placement again", "Brisk runs")
	if n := w.issues(); n != 1 {
		t.Errorf("%d issues", n)
	}
	publish = b.filledForm(place + "/publish")
	b.send(place+"/publish", publish).is(http.StatusOK).says("The roster is published")
	issue := b.at
	for range 2 { // pressed again after going back
		if b.send(place+"/publish", publish).is(http.StatusOK); b.at != issue || w.issues() != 2 {
			t.Errorf("sent again, it led to %s with %d issues", b.at, w.issues())
		}
	}
	publish.Set("once", "another")
	b.send(place+"/publish", publish).is(http.StatusOK).says("published already")
	b.open(place).says("Issue 2 is published, and nothing has changed since")

	b.send(hetty, url.Values{"do": {"unpin"}}).is(http.StatusOK).says("It is free again", "Publish issue 3")
	b.send(hetty, url.Values{"do": {"unpin"}}).is(http.StatusOK).says("It is free again")
	b.open(ride + "/letters").is(http.StatusOK).says("Nobody is written to")
	b.open(ride+"/plan").is(http.StatusOK).says("Home", "before dark", "Policy 1", "if it starts after")
	w.signIn("Petra Lindmoor").open(ride + "/plan").is(http.StatusOK).saysNot("Edit the ride")
	b.open("/" + w.club() + "/times?group=steady").is(http.StatusOK).says("November becks")
}

// TestTwoLeaders has two people change one ride from forms opened at the same time.
func TestTwoLeaders(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	edit := "/" + w.ride() + "/edit"
	w.signIn(demo.Member).open(edit).is(http.StatusForbidden)
	w.signIn(demo.Member).send(edit, url.Values{"ride.title": {"Mine"}}).is(http.StatusForbidden)
	one, two := w.signIn(demo.Leader).open(edit), w.signIn(demo.Secretary).open(edit)
	mine, others := one.filledForm(edit), two.filledForm(edit)
	one.send(edit, mine).is(http.StatusOK).says("Nothing was changed")
	others.Set("ride.start_local", "2026-12-13T10:00")
	others.Set("ride.stops[0].minutes", "30")
	two.send(edit, others).is(http.StatusOK).says("The ride is changed", "10:00")
	mine.Set("ride.title", "Four Becks and a ford")
	mine.Set("ride.start_local", "2026-12-13T09:45")
	one.send(edit, mine).is(http.StatusConflict).says("Somebody else changed this ride", "the start: now “2026-12-13 10:00”", "yours stands below", "the stops: now “36.5 km, 30 min, Tollgate barn cafe”; it is taken over below")
	mine = one.filledForm(edit)
	if mine.Get("ride.title") != "Four Becks and a ford" || mine.Get("ride.start_local") != "2026-12-13T09:45" || mine.Get("ride.stops[0].minutes") != "30" {
		t.Errorf("the form has %v", mine)
	}
	one.send(edit, mine).is(http.StatusOK).says("The ride is changed", "Four Becks and a ford", "09:45")
	ride, err := pb.NewRideServiceClient(w.conn).GetRide(w.as(demo.Leader), &pb.GetRideRequest{Name: w.ride()})
	if err != nil || ride.Stops[0].Minutes != 30 || ride.StartLocal != "2026-12-13T09:45" || ride.Conditions.GetStart().GetTemperatureC() != 4 {
		t.Errorf("%v %v", ride, err)
	}
	two.open(edit)
	again := two.filledForm(edit)
	again.Set("ride.hazards[0].at_distance_m", "900")
	two.send(edit, again).is(http.StatusUnprocessableEntity).says("beyond the end of the route")
}

// TestLargeRoute sends 50 MB: it is refused in words, what was typed is kept, and it is never held whole.
func TestLargeRoute(t *testing.T) { // not parallel: it looks at memory
	w := newWorld(t)
	at := "/" + w.club() + "/rides/new"
	b := w.signIn(demo.Leader).open(at)
	form := b.filledForm(at)
	form.Set("ride.title", "A long way round")
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	b.sendRoute(at, form, "route_gpx", "long.gpx", zeros(50_000_000)).is(http.StatusRequestEntityTooLarge).says("at most 16 MiB are taken")
	runtime.ReadMemStats(&after)
	if held := (after.TotalAlloc - before.TotalAlloc) >> 20; held > 8 {
		t.Errorf("%d MiB were taken for it", held)
	}
	if b.filledForm(at).Get("ride.title") != "A long way round" {
		t.Error("what was typed is lost")
	}
	w.stranger().sendRoute(at, form, "route_gpx", "long.gpx", zeros(50_000_000)).is(http.StatusUnauthorized).says("Nothing you typed is lost")
	b.sendRoute(at, form, "route_gpx", "endless.gpx", zeros(200_000_000)).is(http.StatusRequestEntityTooLarge)
}

// TestLeaderSignups signs people up and out, invites a guest, and calls the ride off.
func TestLeaderSignups(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ride := "/" + w.ride()
	for _, page := range []string{"/signups", "/call-off", "/letters", "/forecast", "/guests/invite", "/contacts", "/place"} {
		w.signIn(demo.Member).open(ride + page).is(http.StatusForbidden)
	}
	b := w.signIn(demo.Leader).open(ride+"/signups").is(http.StatusOK).says("Silas Whinfell", "held", "Ludo Bascroft")
	ludo := ride + "/signups/" + names.Last(w.member("Ludo Bascroft"))
	b.open(ludo + "/change").is(http.StatusOK).says("Sign Ludo Bascroft up")
	form := b.filledForm(ludo + "/change")
	b.send(ludo+"/change", form).is(http.StatusUnprocessableEntity).says("choose a bike")
	form.Set("signup.bike", w.member("Ludo Bascroft")+"/bikes/bike-1")
	form.Set("signup.party", hostile[:20])
	b.send(ludo+"/change", form).is(http.StatusOK).says("The sign-up stands", "Ludo Bascroft")
	b.open(ludo+"/change").says("How the bike stands", "Change the sign-up")
	withdraw := b.filledForm(ludo + "/take-out")
	b.send(ludo+"/take-out", withdraw).is(http.StatusOK).says("Withdraw Ludo Bascroft from the ride?")
	b.send(ludo+"/take-out", b.filledForm(ludo+"/take-out")).is(http.StatusOK).says("The sign-up is withdrawn")

	b.open(ride + "/guests/new").is(http.StatusOK).says("you certify it under your name")
	mira := b.filledForm(ride + "/guests/new")
	mira.Set("act", "add")
	b.send(ride+"/guests/new", mira).is(http.StatusUnprocessableEntity)
	mira.Set("display_name", "Mira <i>Holt</i>")
	mira.Set("act", "rear-lamp")
	b.send(ride+"/guests/new", mira).is(http.StatusOK).says("you certify it under your name")
	mira = b.filledForm(ride + "/guests/new")
	if mira.Get("display_name") != "Mira <i>Holt</i>" || mira.Get("facts.lights[2].end") != "REAR" {
		t.Errorf("the form has %v", mira)
	}
	mira.Set("act", "add")
	for range 2 {
		b.send(ride+"/guests/new", mira).is(http.StatusOK).says("The guest is signed up", "Mira <i>Holt</i> guest of Osric Penhale", "25 riders")
	}
	mira.Set("display_name", "Imke Vаrd") // with a Cyrillic а
	mira.Set("once", "alike")
	b.send(ride+"/guests/new", mira).is(http.StatusOK).says("A name like another", "Imke Vаrd is signed up", "looks like that of Imke Vard, a member", "withdraw the guest's sign-up")
	b.send(ride+"/guests/new", mira).is(http.StatusOK).says("The guest is signed up", "26 riders") // sent again
	b.open(ride + "/guests/invite")
	invited := url.Values{"invite.display_name": {"Per <b>Lund</b>"}, "once": {field(b.page, "once")}}
	b.send(ride+"/guests/invite", url.Values{"invite.display_name": {""}}).is(http.StatusUnprocessableEntity)
	b.send(ride+"/guests/invite", invited).is(http.StatusOK).says("Per <b>Lund</b>", "/join/", "It works once")
	link := attributeOf(b.page[strings.Index(b.page, `class="link"`):], "href")
	b.send(ride+"/guests/invite", invited).is(http.StatusOK).saysNot("/join/").says("was made already") // sent twice
	guest := w.stranger()
	guest.send("/join", url.Values{"code": {link}, "device": {"phone"}, "then": {ride + "/plan"}}).is(http.StatusOK).says("Plan").saysNot("Times recorded")
	guest.open(ride + "/place").is(http.StatusForbidden)

	b.open(ride+"/contacts").is(http.StatusOK).says("ring 112 first", "Show all of Brisk")
	b.send(ride+"/contacts", url.Values{"group": {"brisk"}}).is(http.StatusConflict).says("can be read of riders who have signed on")

	b.open(ride + "/call-off")
	off := b.filledForm(ride + "/call-off")
	b.send(ride+"/call-off", off).is(http.StatusUnprocessableEntity).says("say why")
	off.Set("reason", "Black ice <on> the lanes")
	b.send(ride+"/call-off", off).is(http.StatusOK).says("This cannot be taken back", "Black ice <on> the lanes")
	sure := b.filledForm(ride + "/call-off")
	b.send(ride+"/call-off", sure).is(http.StatusOK).says("The ride is called off", "Black ice")
	b.send(ride+"/call-off", sure).is(http.StatusOK).says("The ride is called off")
	b.open(ride).says("You had a place", "Plan", "Sign-ups", "What was marked").saysNot("You have a place", "Place", "Start line", "Edit", "Call off", "Write down what happened", "Withdraw")
	b.open(ride+"/start").says("The ride is called off").saysNot("Sign on", "All signed on but", "What a late start does", "Close")
	b.open(ride+"/start/riders/"+names.Last(w.member(demo.Member))).is(http.StatusOK).says("call the emergency number first", "Whom to call").
		saysNot("Sign on", "Look over the bike", "Was a mistake") // who fell at the start may need it
	b.open(ride + "/place").is(http.StatusOK).says("Nothing is placed any more")
	b.send(ride+"/place/publish", url.Values{"once": {"x"}}).is(http.StatusConflict)
}

// TestPlaceLacksRoles: where nobody can lead, the page says how somebody comes to be qualified; where all run, it does not.
func TestPlaceLacksRoles(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.signIn(demo.Leader).open("/" + w.ride() + "/place").is(http.StatusOK).saysNot("Who is qualified to lead")
	rides := pb.NewRideServiceClient(w.conn)
	ride, err := rides.CreateRide(w.as(demo.Leader), &pb.CreateRideRequest{Parent: w.club(), RequestId: "first", RouteOf: w.ride(), Ride: &pb.Ride{
		Title: "First", StartLocal: "2026-12-20T10:30", MeetingPoint: "Weighbridge", Groups: []*pb.Group{{Id: "steady", Title: "Steady", PaceKmh: 23}}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rides.JoinRide(w.as(demo.Member), &pb.JoinRideRequest{Parent: ride.Name, RequestId: "join",
		Signup: &pb.Signup{Member: w.member(demo.Member), Bike: w.member(demo.Member) + "/bikes/bike-1"}}); err != nil {
		t.Fatal(err)
	}
	w.signIn(demo.Leader).open("/"+ride.Name+"/place").is(http.StatusOK).
		says("Who is qualified to lead a group or to mark the back signs up like everybody else", "a secretary says on the page of the member")
	w.signIn(demo.Secretary).open("/" + ride.Name + "/place").is(http.StatusOK).says("a secretary says under Members")
}

// TestHeldBikeIsAskedAnew: who ticks that a held bike rides in one group, and then chooses another, is asked again.
func TestHeldBikeIsAskedAnew(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	place := "/" + w.ride() + "/place"
	silas := place + "/members/" + names.Last(w.member("Silas Whinfell"))
	b := w.signIn(demo.Leader)
	form := b.open(silas).filledForm(silas)
	form.Set("group", "easy")
	form.Set("reason", "he rides with his father")
	form.Set("override_reason", "his father has looked at it")
	b.send(silas, form).is(http.StatusConflict).says("and it rides all the same")
	form = b.filledForm(silas)
	form.Set("held_bike_rides", "true")
	form.Set("group", "steady")
	b.send(silas, form).is(http.StatusConflict).says("held in Steady", "and it rides all the same")
	form = b.filledForm(silas)
	if form.Get("held_bike_rides") != "" || form.Get("group") != "steady" {
		t.Errorf("ticked for a group that was not seen: %v", form)
	}
	form.Set("held_bike_rides", "true")
	b.send(silas, form).is(http.StatusOK).says("It is fixed")
}

// TestAskTheWeatherService: a forecast can be asked for where there is a service to ask, and nowhere else.
func TestAskTheWeatherService(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.signIn(demo.Leader).open("/"+w.ride()+"/forecast").is(http.StatusOK).says("not set up to ask a weather service", "Read a file").saysNot("Ask now")
	w = newWorld(t, func(c *web.Config) { c.WeatherService = true })
	w.signIn(demo.Leader).open("/"+w.ride()+"/forecast").is(http.StatusOK).says("Ask now", "Read a file").saysNot("not set up")
}
