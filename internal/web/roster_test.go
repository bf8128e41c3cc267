package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/demo"
	"gritward/internal/render/rostertest"
	"gritward/internal/web"
	pb "gritward/proto/gritward/v1"
)

func (w *world) rides() pb.RideServiceClient { return pb.NewRideServiceClient(w.conn) }

// changeRide has the leader change Sunday's ride.
func (w *world) changeRide(ride *pb.Ride, paths ...string) {
	w.t.Helper()
	ride.Name = w.ride()
	if _, err := w.rides().UpdateRide(w.as(demo.Leader), &pb.UpdateRideRequest{Ride: ride, UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}}); err != nil {
		w.t.Fatal(err)
	}
}

// TestRosterStory reads a ride and its roster as a member, before and after the next issue, and after it is called off.
func TestRosterStory(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	ride, first := "/"+w.ride(), "/"+w.ride()+"/rosters/1"
	b.open("/"+w.club()+"/rides").is(http.StatusOK).says("To come", "Four Becks", "Past", "● Published")
	b.open(ride).is(http.StatusOK).says("Who has signed up", "Hetty Marlock you", "You have a place", "issue 1 of the roster", "4 climbs, 1 stop, 3 hazards and 1 way out", "As of Friday 11 December")
	b.saysNot("Call off", "Sign-ups")
	b.open(first).is(http.StatusOK).says("issue 1, the newest", "You ride in Steady , row 1, on the right", "Beside you Imke Vard", "★ leads", "◆ back marker",
		"▼ sent to the back", "Those sent to the back ride from here", "Safety brief", "Climb at 8.6", "Easy about 13:10")
	for _, once := range []string{`<h1>`, `class="map"`, `class="profile"`} {
		if n := strings.Count(b.page, once); n != 1 {
			t.Errorf("the page has %s %d times", once, n)
		}
	}
	if style := regexp.MustCompile(`(?i)<style|\sstyle=|\son[a-z]+="|javascript:`).FindString(b.page); style != "" {
		t.Errorf("the page has %q, which the content security policy forbids", style)
	}
	w.changeRide(&pb.Ride{MeetingPoint: "The lower weighbridge"}, "meeting_point")
	b.open(first).says("Changed since this issue:")
	b.open(ride).saysNot("out of date")
	leading := w.signIn(demo.Leader).open(ride).says("Issue 1 of the roster is out of date", "It does not say yet", "weighbridge", "Place anew and publish")
	leading.open(ride + "/fresh").says("Issue 1 of the roster is out of date")
	if _, err := w.rides().PublishRoster(w.as(demo.Leader), &pb.PublishRosterRequest{Parent: w.ride()}); err != nil {
		t.Fatal(err)
	}
	leading.open(ride).is(http.StatusOK).saysNot("out of date")
	b.open(first).is(http.StatusOK).says("no longer what holds", "Issue 2 has come").saysNot("the newest")
	b.open(first + "/fresh").is(http.StatusOK).says("Issue 2 has come").saysNot("Safety brief")
	b.open(ride+"/rosters/-").is(http.StatusOK).says("issue 2, the newest", "The lower weighbridge")
	b.open(ride+"/rosters").is(http.StatusOK).says("Issue 2 the newest: this one holds", "Issue 1")
	b.open(ride + "/rosters/9").is(http.StatusNotFound)
	b.open(ride + "/rosters/x%3Cscript%3E").is(http.StatusNotFound)
	for path, head := range map[string]string{"/sheets.pdf": "%PDF-", "/ride.gpx": "<?xml", "/ride.gpx?group=easy": "<?xml"} {
		if b.open(ride + path).is(http.StatusOK); !strings.HasPrefix(b.page, head) {
			t.Errorf("%s begins %.20q", path, b.page)
		}
	}
	leader := w.signIn(demo.Leader)
	leader.open(ride).is(http.StatusOK).says("Plan Sign-ups Place Start line Edit Call off")
	if _, err := w.rides().CallOffRide(w.as(demo.Leader), &pb.CallOffRideRequest{Name: w.ride(), Reason: "black <ice>"}); err != nil {
		t.Fatal(err)
	}
	b.open(ride).is(http.StatusOK).says("Called off. Do not go.", "Black <ice>.")
	b.open(ride+"/rosters/-").is(http.StatusOK).says("CALLED OFF", "black <ice>")
	b.open("/" + w.club() + "/rides").says("✕ Called off")
	w.stranger().open(first).is(http.StatusUnauthorized)
	w.stranger().open(ride + "/changes").is(http.StatusUnauthorized)
}

// TestHostileRide has names that are markup, turn text around, or are very long, on every page of a ride.
func TestHostileRide(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	taken := 0
	for _, s := range append(rostertest.Hostile(), strings.Repeat("😀", 60), "\u202etxt.exe") {
		if s = strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", ""), "\uFFFD"); len([]rune(s)) > 60 {
			s = string([]rune(s)[:60])
		}
		if strings.TrimSpace(s) == "" {
			continue
		}
		_, err := w.rides().UpdateRide(w.as(demo.Leader), &pb.UpdateRideRequest{Ride: &pb.Ride{Name: w.ride(), Title: s, MeetingPoint: s, Stops: []*pb.Stop{{Title: s, AtDistanceM: 20000, Minutes: 5}},
			Hazards: []*pb.PlaceNote{{What: s, AtDistanceM: 30000}}, WaysOut: []*pb.PlaceNote{{What: s, AtDistanceM: 30001}}},
			UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"title", "meeting_point", "stops", "hazards", "ways_out"}}})
		if status.Code(err) == codes.InvalidArgument {
			continue // the server takes no such name
		}
		taken++
		if _, err := w.rides().PublishRoster(w.as(demo.Leader), &pb.PublishRosterRequest{Parent: w.ride()}); err != nil {
			t.Fatal(err)
		}
		for _, path := range []string{"/" + w.ride(), "/" + w.ride() + "/rosters/-", "/" + w.club() + "/rides", "/" + w.ride() + "/rosters"} {
			if b.open(path).is(http.StatusOK); regexp.MustCompile(`<script>|<img|<b>`).MatchString(b.page) {
				t.Errorf("%s has the markup of %q", path, s)
			}
		}
	}
	if taken < 5 {
		t.Errorf("only %d names were taken", taken)
	}
}

// TestShareLink makes a link, opens it as a stranger, and takes it away.
func TestShareLink(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ride := "/" + w.ride()
	member, leader := w.signIn(demo.Member), w.signIn(demo.Leader)
	member.open(ride + "/rosters/1").saysNot("Make a link for others")
	member.send(ride+"/share", url.Values{}).is(http.StatusForbidden)
	member.send(ride+"/unshare", url.Values{}).is(http.StatusForbidden)
	clubs := pb.NewClubServiceClient(w.conn)
	if _, err := clubs.UpdateMember(w.as(demo.Leader), &pb.UpdateMemberRequest{UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"name_public"}},
		Member: &pb.Member{Name: w.member(demo.Leader), NamePublic: true}}); err != nil {
		t.Fatal(err)
	}
	leader.open(ride + "/rosters/1").says("Make a link for others")
	leader.send(ride+"/share", url.Values{}).is(http.StatusOK).says("It is shown this once", "It names 1 of 23 riders")
	link := regexp.MustCompile(`href="http[^"]*(/shared/[^"]+)"`).FindStringSubmatch(leader.page)
	if link == nil {
		t.Fatal(leader.page)
	}
	leader.open(ride).saysNot(link[1][len("/shared/"):]).says("Take the link away")
	member.open(ride + "/rosters/1").says("A link opens this roster to anyone who has it")
	b := w.stranger()
	b.open(link[1]).is(http.StatusOK).says("Four Becks", "Osric Penhale", "a rider", "Climb at 8.6", "Only riders who agreed are named")
	for name := range w.story.Names {
		if name != demo.Leader && strings.Contains(b.page, name) {
			t.Errorf("%s is named, and did not agree", name)
		}
	}
	for _, never := range []string{"members/", "960 111", "winter bike", "▼", "sent to the back", "junior"} {
		if strings.Contains(b.page, never) {
			t.Errorf("the shared page tells %q", never)
		}
	}
	answer, err := http.Get(w.pages + link[1])
	if err != nil {
		t.Fatal(err)
	}
	_ = answer.Body.Close()
	for header, want := range map[string]string{"X-Robots-Tag": "noindex, nofollow", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store"} {
		if got := answer.Header.Get(header); got != want {
			t.Errorf("%s is %q", header, got)
		}
	}
	leader.send(ride+"/unshare", url.Values{}).is(http.StatusOK).says("opens nothing any more")
	b.open(link[1]).is(http.StatusNotFound).says("opens nothing")
	b.open("/shared/" + strings.Repeat("x", 300)).is(http.StatusNotFound)
	leader.send(ride+"/unshare", url.Values{}).is(http.StatusConflict)
}

// TestTiles lets the page of a roster, and no other, load pictures from where the club's tiles are.
func TestTiles(t *testing.T) {
	t.Parallel()
	w := newWorld(t, func(c *web.Config) {
		c.TilesAddress, c.TilesCredit = "https://tiles.example/{z}/{x}/{y}.png", "© some <mappers>"
	})
	b := w.signIn(demo.Member)
	for path, want := range map[string]bool{"/rosters/1": true, "": false} {
		response, err := b.client.Get(w.pages + "/" + w.ride() + path)
		b.shown(response, err).is(http.StatusOK)
		allowed := strings.Contains(response.Header.Get("Content-Security-Policy"), "img-src 'self' https://tiles.example;")
		drawn := strings.Count(b.page, `<image href="https://tiles.example/`)
		if allowed != want || (drawn > 0) != want || strings.Contains(b.text(), "© some <mappers>") != want || drawn > 30 {
			t.Errorf("%q: allowed %t, %d tiles", path, allowed, drawn)
		}
	}
	if zoom := regexp.MustCompile(`tiles\.example/(\d+)/(\d+)/(\d+)\.png`).FindStringSubmatch(b.open("/" + w.ride() + "/rosters/1").page); zoom == nil || zoom[1] != "11" && zoom[1] != "12" {
		t.Errorf("tiles are of zoom %v", zoom)
	}
}

// maxRosterPage is how large a roster of 40 riders may be, in bytes, before it is compressed. Ids are drawn, so who rides beside whom is
// not the same each time, nor is the page: by some hundred bytes.
const maxRosterPage = 62_000

func TestRosterSize(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.grown(44, 40)
	b := w.signIn(demo.Member)
	b.open("/" + w.ride() + "/rosters/-").is(http.StatusOK)
	if n := strings.Count(b.page, `class="seat`); n < 35 {
		t.Errorf("only %d riders are on it", n)
	}
	t.Logf("the roster has %d bytes", len(b.page))
	if len(b.page) > maxRosterPage {
		t.Errorf("the page has %d bytes", len(b.page))
	}
}

// events reads server-sent events from a stream, one at a time.
func events(t *testing.T, body interface{ Read([]byte) (int, error) }) func() string {
	left := ""
	return func() string {
		for !strings.Contains(left, "\n\n") {
			part := make([]byte, 4096)
			n, err := body.Read(part)
			if left += string(part[:n]); err != nil {
				return "ended"
			}
		}
		event, rest, _ := strings.Cut(left, "\n\n")
		left = rest
		return event
	}
}

// TestChanges watches a ride as a page does, comes back from a change on, and is let go when the server stops.
func TestChanges(t *testing.T) {
	t.Parallel()
	w := newWorld(t, func(c *web.Config) { c.Beat = time.Millisecond })
	b := w.signIn(demo.Member)
	watch := func(last string) (func() string, func()) {
		request, err := http.NewRequest(http.MethodGet, w.pages+"/"+w.ride()+"/changes", nil)
		if err != nil {
			t.Fatal(err)
		}
		if last != "" {
			request.Header.Set("Last-Event-ID", last)
		}
		response, err := b.client.Do(request)
		if err != nil {
			t.Fatal(err)
		}
		if kind := response.Header.Get("Content-Type"); response.StatusCode != http.StatusOK || kind != "text/event-stream" || response.Header.Get("Content-Encoding") != "" {
			t.Fatalf("%d %s %s", response.StatusCode, kind, response.Header.Get("Content-Encoding"))
		}
		return events(t, response.Body), func() { _ = response.Body.Close() }
	}
	next, gone := watch("")
	until := func(next func() string, what string) string {
		for {
			event := next()
			if event == "ended" || strings.Contains(event, what) {
				return event
			}
		}
	}
	begun := strings.TrimPrefix(until(next, "id: "), "id: ")
	until(next, ": still here")
	w.changeRide(&pb.Ride{MeetingPoint: "The lower weighbridge"}, "meeting_point")
	if event := until(next, "event: change"); !strings.Contains(event, "data: RIDE_CHANGED") || strings.Contains(event, "weighbridge") {
		t.Errorf("told %q", event)
	}
	gone()
	again, gone := watch(begun)
	defer gone()
	if event := until(again, "event: change"); !strings.Contains(event, "data: RIDE_CHANGED") {
		t.Errorf("told again %q", event)
	}
	b.open("/clubs/marrowdale/rides/none/changes").is(http.StatusNotFound)
	for range 31 { // one is open already
		_, gone := watch("")
		defer gone()
	}
	b.open("/" + w.ride() + "/changes").is(http.StatusTooManyRequests).says("Too many pages are kept fresh on this device")
	w.stop()
	if event := until(again, "nothing more"); event != "ended" {
		t.Errorf("a server that stops sends %q", event)
	}
}
