package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

var (
	inputs    = regexp.MustCompile(`<input ([^>]*)>`)
	selects   = regexp.MustCompile(`(?s)<select [^>]*name="([^"]*)"[^>]*>(.*?)</select>`)
	chosen    = regexp.MustCompile(`<option value="([^"]*)" selected>`)
	areas     = regexp.MustCompile(`(?s)<textarea [^>]*name="([^"]*)"[^>]*>\n?(.*?)</textarea>`)
	attribute = regexp.MustCompile(`([a-z]+)="([^"]*)"`)
	unescape  = strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&lt;", "<", "&gt;", ">", "&amp;", "&")
)

// form is what the forms of the page would send as they stand, all together.
func (b *browser) form() url.Values {
	values := url.Values{}
	for _, input := range inputs.FindAllStringSubmatch(b.page, -1) {
		of := map[string]string{}
		for _, part := range attribute.FindAllStringSubmatch(input[1], -1) {
			of[part[1]] = unescape.Replace(part[2])
		}
		if of["type"] == "radio" || of["type"] == "checkbox" {
			if !strings.Contains(input[1], " checked") {
				continue
			}
		}
		values.Add(of["name"], of["value"])
	}
	for _, one := range selects.FindAllStringSubmatch(b.page, -1) {
		if value := chosen.FindStringSubmatch(one[2]); value != nil {
			values.Set(one[1], unescape.Replace(value[1]))
		}
	}
	for _, one := range areas.FindAllStringSubmatch(b.page, -1) {
		values.Set(one[1], unescape.Replace(one[2]))
	}
	return values
}

// with is a form with some fields filled in: name, value, name, value...
func with(form url.Values, pairs ...string) url.Values {
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

// looked are the answers of somebody who stands beside a bike that is all right, by the fewest taps: one tick for each part.
var looked = []string{"look.guards", "true", "look.brakes", "true", "look.tyres", "true", "look.bearings", "true",
	"look.contact", "true", "facts.frame.damage_open", "false"}

// TestDeclareBike declares the commonest winter bike, without a script.
func TestDeclareBike(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	mine := "/" + w.member(demo.Member) + "/bikes"
	b.open(mine).is(http.StatusOK).says("My bikes", "mint winter bike", "Declare another bike")
	b.open(mine+"/new").is(http.StatusOK).says("Declare a bike", "not said", "Another kind of bike").saysNot("not said yet")

	// What the form begins with says what kind of bike it is, and nothing of its state.
	begun := b.form()
	for name := range begun {
		for _, state := range []string{"secure", "pad_mm", "tread", "cuts", "glazed", "contaminated", "rim_wear", "_on", "runtime", "wear", "feel", "damage", "sound"} {
			if strings.HasPrefix(name, "facts.") && strings.Contains(name, state) && begun.Get(name) != "" {
				t.Errorf("%s begins with %q, which nobody looked at", name, begun.Get(name))
			}
		}
	}
	b.send(mine+"/new/answer", with(b.form(), "facts.guards.front.kind", "NONE")).is(http.StatusOK).says("front: no guard")
	if !strings.Contains(b.page, `<div data-goes="says-brakes"></div>`) {
		t.Errorf("a part is answered in which nothing was typed:\n%s", b.page)
	}
	b.send(mine+"/new", with(begun, "act", "look")).is(http.StatusOK).says("held", "not said yet", "Held: it does not start until that is put right.")
	if strings.Contains(b.page, "Certified.") || slices.ContainsFunc(w.bikesOf(demo.Member), func(bike *pb.Bike) bool { return bike.Declaration.Facts.Title == "winter bike" }) {
		t.Error("asking what the club says certified the bike")
	}

	// The rules answer, and everything stays filled in.
	b.send(mine+"/new", with(b.form(), append(looked, "look.pad_mm", "4", "facts.guards.rear.flap", "false", "facts.guards.rear.reach", "ABOVE_HUB", "act", "look")...))
	b.is(http.StatusOK).says("back of the group", "no flap", "Fit a flap to the rear guard")
	if got := b.form(); got.Get("facts.guards.rear.flap") != "false" || got.Get("look.tyres") != "true" {
		t.Errorf("what was filled in is lost: %v", got)
	}
	once := b.form()
	b.send(mine+"/new", with(once, "facts.guards.rear.flap", "true", "facts.guards.rear.reach", "HUB", "act", "certify"))
	b.is(http.StatusOK).says("Certified. Thank you.", "winter bike", "by day: △ advice", "Rear pads 4 mm", "Front tread good, round")
	at := b.at

	// Sent twice it is one bike; another of that name is refused at its field.
	b.send(mine+"/new", with(once, "act", "certify")).is(http.StatusOK)
	if b.at != at {
		t.Errorf("sent again it led to %s, not to %s", b.at, at)
	}
	b.open(mine + "/new")
	if title := b.form().Get("facts.title"); title != "winter bike 2" {
		t.Errorf("the next bike begins as %q", title)
	}
	b.send(mine+"/new", with(b.form(), "facts.title", "winter bike", "act", "certify")).is(http.StatusUnprocessableEntity)
	b.says("What you call it : you have a bike of that name")
}

// bikesOf are the bikes that the server has of a member.
func (w *world) bikesOf(name string) []*pb.Bike {
	w.t.Helper()
	listed, err := pb.NewBikeServiceClient(w.conn).ListBikes(w.as(name), &pb.ListBikesRequest{Parent: w.member(name)})
	if err != nil {
		w.t.Fatal(err)
	}
	return listed.Bikes
}

// TestDeclareLamps adds and takes away lamps without a script.
func TestDeclareLamps(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	to := "/" + w.member(demo.Member) + "/bikes/new"
	b.open(to)
	b.send(to, with(b.form(), "facts.lights[1].runtime_min", "90", "act", "rear-lamp")).is(http.StatusOK).says("Rear lamp 2")
	b.send(to, with(b.form(), "facts.lights[2].runtime_min", "600", "act", "no-lamp-0")).is(http.StatusOK).saysNot("Front lamp Take")
	form := b.form()
	if form.Get("facts.lights[0].runtime_min") != "90" || form.Get("facts.lights[1].runtime_min") != "600" || form.Has("facts.lights[2].end") {
		t.Errorf("the wrong lamp went: %v", form)
	}
	for range 14 {
		b.send(to, with(b.form(), "act", "front-lamp")).is(http.StatusOK)
	}
	if b.form().Has("facts.lights[12].end") || !b.form().Has("facts.lights[11].end") {
		t.Error("there are not twelve lamps")
	}
	b.open(to)
	b.send(to, with(b.form(), "facts.lights[1].runtime_min", "two hours", "act", "certify")).is(http.StatusUnprocessableEntity).says("is not a number; write it in minutes, as digits alone")
	if !strings.Contains(b.page, `id="f-facts-lights-1-runtime_min-wrong"`) {
		t.Error("what is wrong does not stand beside its field")
	}
}

// TestHostileBike fills in what nobody means.
func TestHostileBike(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	mine := "/" + w.member(demo.Member) + "/bikes"
	hostile := `"><script>alert(1)</script> ١ ' ` + strings.Repeat("🚲", 10)
	b.open(mine + "/new")
	b.send(mine+"/new", with(b.form(), "facts.title", hostile, "facts.note", "</textarea><b>x", "facts.lights[0].label", "a\"b<i>", "act", "certify")).is(http.StatusOK)
	if strings.Contains(b.page, "<script>alert") || strings.Contains(b.page, "<i>") || strings.Contains(b.page, "<b>x") {
		t.Error("what was typed is taken for the page")
	}
	b.says("<script>alert(1)</script>")
	bike := b.at
	b.open(bike + "/declare").is(http.StatusOK)
	if got := b.form().Get("facts.title"); got != hostile {
		t.Errorf("it came back as %q", got)
	}
	for _, bad := range [][]string{
		{"facts.title", ""}, {"facts.title", strings.Repeat("x", 61)}, {"facts.title", "\x00"}, {"facts.title", "\u202ekcab"}, {"facts.tyres.front.width_mm", "1e400"},
		{"facts.tyres.front.width_mm", "NaN"}, {"facts.tyres.front.width_mm", "-28"}, {"facts.guards.front.kind", "PLASTIC"},
		{"facts.brakes.front.looked_on", "2026-02-30"}, {"facts.brakes.front.looked_on", "2031-01-01"}, {"look.pad_mm", "thick"},
		{"facts.lights[0].end", "SIDE"}, {"facts.carry.tubes", "99999999999999999999"},
	} {
		b.open(bike + "/declare")
		b.send(bike+"/declare", with(b.form(), append(bad, "act", "certify")...)).is(http.StatusUnprocessableEntity)
		b.send(bike+"/answer", with(b.form(), bad...))
		if b.status != http.StatusUnprocessableEntity && b.status != http.StatusOK {
			t.Errorf("%v is answered with %d", bad, b.status)
		}
	}
	for _, path := range []string{mine + "/bike-99", mine + "/..%2f..", mine + "/bike-1/declarations/0", mine + "/bike-1/declarations/x", mine + "/bike-1/declarations/99"} {
		if b.open(path); b.status != http.StatusNotFound && b.status != http.StatusUnprocessableEntity {
			t.Errorf("%s is answered with %d", path, b.status)
		}
	}
}

// TestAgain certifies a bike again in two taps from the first page, and what is shown first is what is certified.
func TestAgain(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const silas = "Silas Whinfell"
	b := w.signIn(silas)
	b.open("/").says("until you certify it again", "Certify again")
	link := regexp.MustCompile(`href="([^"]*/again)"`).FindStringSubmatch(b.page)[1]
	b.open(link).is(http.StatusOK).says("Still true today?", "Front guard full, with stays", "All of it is true today: certify")
	form := b.form()
	b.send(link, form).is(http.StatusOK).says("Certified. Thank you.")
	b.send(link, form).is(http.StatusOK) // sent twice
	if got := w.bikesOf(silas)[0].Declaration.Revision; got != 2 {
		t.Errorf("it is declaration %d", got)
	}
	b.send(link, with(url.Values{}, "once", "another", "etag", form.Get("etag"))).is(http.StatusConflict).says("Still true today?")
	b.open("/").saysNot("certify it again")
	bike := strings.TrimSuffix(link, "/again")
	b.open(bike+"/declarations").is(http.StatusOK).says("first declaration", "nothing: certified again")
	b.open(bike+"/declarations/1").is(http.StatusOK).says("declaration 1", "Front guard full, with stays")
	w.signIn("Jun Okare").open(link).is(http.StatusForbidden)
	w.stranger().open(link).is(http.StatusUnauthorized)
}

// TestAnswers answers a half-filled form, on days and for a ride, and beside each part of it.
func TestAnswers(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	bike := "/" + w.member(demo.Member) + "/bikes/bike-1"
	b.open(bike + "/declare").is(http.StatusOK)
	form := b.form()
	b.send(bike+"/answer", form).is(http.StatusOK).says("by day", "after dark", "The light at the rear is 90 min short")
	for _, want := range []string{`data-goes="says-guards"`, `data-goes="says-lights"`} {
		if !strings.Contains(b.page, want) {
			t.Errorf("no %s in %s", want, b.page)
		}
	}
	form.Set("ride", w.ride()[strings.LastIndex(w.ride(), "/")+1:])
	b.send(bike+"/answer", form).is(http.StatusOK).says("Brisk", "Steady", "Easy").saysNot("by day")
	form.Set("ride", "../../x")
	b.send(bike+"/answer", form).is(http.StatusOK).says("by day")
	b.send(bike+"/answer", url.Values{}).is(http.StatusOK) // nothing filled in
	w.signIn("Jun Okare").send(bike+"/answer", form).is(http.StatusForbidden)
}

// TestCare records work, strikes it out, and takes the bike out of use.
func TestCare(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	bike := "/" + w.member(demo.Member) + "/bikes/bike-1"
	b.open(bike+"/care").is(http.StatusOK).says("Nothing is recorded yet", "What is due")
	b.open(bike+"/care/new").is(http.StatusOK).says("What was done?", "Brake pads measured")
	b.open(bike+"/care/new?work=PADS_MEASURED").is(http.StatusOK).says("Which end", "Thickness left")
	b.send(bike+"/care/new", with(b.form(), "entry.thickness_mm", "2.5")).is(http.StatusUnprocessableEntity)
	form := with(b.form(), "entry.end", "REAR", "entry.thickness_mm", "2,5", "entry.note", "<i>gritty</i>")
	b.send(bike+"/care/new", form).is(http.StatusOK).says("Recorded.", "Brake pads measured, rear, 2.5 mm", "<i>gritty</i>")
	b.send(bike+"/care/new", form).is(http.StatusOK)
	if n := strings.Count(b.text(), "Brake pads measured, rear"); n != 1 {
		t.Errorf("sent twice it is there %d times", n)
	}
	strikes := b.form()
	b.open(bike).says("Rear pads 2.5 mm")
	b.send(bike+"/care", url.Values{"strikes": strikes["strikes"], "once": {"x"}}).is(http.StatusOK).says("Struck out")
	b.open(bike).says("Rear pads 4 mm")
	b.open(bike + "/care/new?work=CHAIN_MEASURED").saysNot("I have measured again")
	b.send(bike+"/care/new", with(b.form(), "once", "well", "entry.wear_pct", "0.2")).is(http.StatusOK)
	b.open(bike + "/care/new?work=CHAIN_MEASURED")
	b.send(bike+"/care/new", with(b.form(), "once", "slip", "entry.wear_pct", "4")).is(http.StatusUnprocessableEntity).
		says("4 % would be 3.8 % more worn than 0.2 % on", "I have measured again, and it is so")
	b.send(bike+"/care/new", with(b.form(), "measured_again", "true")).is(http.StatusOK).says("Recorded.", "Chain measured, 4 %")
	for _, bad := range []string{"", "../bike-2/care/1", "999"} {
		if b.send(bike+"/care", url.Values{"strikes": {bad}}); b.status < 400 {
			t.Errorf("striking %q out is answered with %d", bad, b.status)
		}
	}
	b.open(bike + "/retire").is(http.StatusOK).says("for ever")
	b.send(bike+"/retire", b.form()).is(http.StatusOK).says("The bike is out of use", "Out of use mint winter bike")
	b.send(bike+"/retire", url.Values{}).is(http.StatusConflict)
	b.open(bike).is(http.StatusOK).says("Out of use since").saysNot("Change something")
	b.send(bike+"/again", url.Values{}).is(http.StatusConflict)
}

// TestDeclaredMeanwhile: who certifies a bike that was declared since the form was opened is told what it says now.
func TestDeclaredMeanwhile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const silas = "Silas Whinfell"
	declare := "/" + w.member(silas) + "/bikes/bike-1/declare"
	b, other := w.signIn(silas).open(declare), w.signIn(silas).open(declare)
	late := with(b.form(), "facts.note", "mine", "act", "certify")
	other.send(declare, with(other.form(), "facts.guards.front.kind", "NONE", "facts.note", "", "act", "certify")).is(http.StatusOK).says("Certified")
	b.send(declare, late).is(http.StatusConflict).says("This bike was declared while the page was open", "nothing you typed is lost", "now “Front guard: none”", "now “Anything else a leader should know left out”").
		saysNot("clubs/", "Rear guard:")
	if got := b.form(); got.Get("facts.note") != "mine" || got.Get("facts.guards.front.kind") != late.Get("facts.guards.front.kind") {
		t.Errorf("what was typed is lost: %v", got)
	}
	b.send(declare, with(b.form(), "act", "certify")).is(http.StatusOK).says("Certified")
}

// TestRiddenMeanwhile: that a bike was ridden home since its form was opened is no declaration, and nobody is told that there was one.
func TestRiddenMeanwhile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	declare := "/" + w.member(demo.Leader) + "/bikes/bike-1/declare"
	b := w.signIn(demo.Leader).open(declare)
	late, start := with(b.form(), "facts.note", "mine", "act", "certify"), w.story.Ride.StartAt.AsTime()
	w.clock.TurnTo(start.Add(5 * time.Hour))
	calls := pb.NewRollCallServiceClient(w.conn)
	for i, what := range []pb.Mark_What{pb.Mark_SET_OFF, pb.Mark_HOME} {
		mark := &pb.Mark{Name: w.ride() + "/marks/" + []string{"off", "home"}[i], Member: w.member(demo.Leader), What: what,
			At: timestamppb.New(start.Add(time.Duration(5*i) * time.Hour))}
		if _, err := calls.RecordMarks(w.as(demo.Leader), &pb.RecordMarksRequest{Parent: w.ride(), Marks: []*pb.Mark{mark}}); err != nil {
			t.Fatal(err)
		}
	}
	if bike := w.bikesOf(demo.Leader)[0]; bike.Etag == late.Get("etag") || bike.RiddenKm == 0 {
		t.Fatalf("it was not ridden: %v", bike)
	}
	b.send(declare, late).is(http.StatusOK).says("Certified", "mine")
}
