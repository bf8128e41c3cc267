package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"gritward/internal/demo"
	"gritward/internal/names"
)

// TestStartLine plays a ride day at the start line without script: signed on, looked over, put back, set off, home, struck,
// closed.
func TestStartLine(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	start := w.story.Ride.StartAt.AsTime()
	w.clock.TurnTo(start.Add(-20 * time.Minute))
	b, at := w.signIn(demo.Leader), "/"+w.ride()+"/start"
	id := func(name string) string { return names.Last(w.member(name)) }
	mark := func(form url.Values) *browser { return b.send(at+"/mark", form) }

	b.open(at).is(http.StatusOK).says("not seen 24", "Start by: 11:20", "Hetty Marlock ○ clear ? not seen yet Sign on", "Silas Whinfell ■ held ? not seen yet",
		"All signed on but", "After a stop: all there but", "What a late start does")
	mark(url.Values{"once": {"a"}, "one": {"SIGNED_ON " + id(demo.Member)}}).is(http.StatusOK).says("It is marked", "at the start 1", "✓ signed on 10:10")
	mark(url.Values{"once": {"a"}, "one": {"SIGNED_ON " + id(demo.Member)}}).says("at the start 1") // sent twice
	mark(url.Values{"once": {"b"}, "what": {"SIGNED_ON"}, "m": {id("Imke Vard"), id("Noor Vasanthi")}}).says("at the start 3")
	mark(url.Values{"once": {"c"}, "what": {"SIGNED_ON"}}).is(http.StatusUnprocessableEntity).says("choose at least one rider")
	mark(url.Values{"once": {"c"}, "what": {"HANDED_OVER"}, "m": {id(demo.Member)}}).is(http.StatusUnprocessableEntity).says("to whom")
	mark(url.Values{"once": {"c"}, "what": {"FLEW"}, "m": {id(demo.Member)}}).is(http.StatusUnprocessableEntity)
	mark(url.Values{"once": {"c"}, "one": {"SIGNED_ON ../../x"}}).is(http.StatusUnprocessableEntity)
	mark(url.Values{"once": {"d"}, "what": {"NO_SHOW"}, "m": {id("Jun Okare")}, "note": {`<script>"x"` + strings.Repeat("\U0001F6B2", 60)}}).says("– did not come")

	mark(url.Values{"once": {"d2"}, "what": {"NO_SHOW"}, "m": {id("Jun Okare")}, "note": {"\u202e"}}).is(http.StatusUnprocessableEntity).says("does not belong in text")

	look := func(form url.Values) *browser { form.Set("m", id(demo.Member)); return b.send(at+"/look", form) }
	look(url.Values{"once": {"l1"}, "do": {"found"}, "end": {"REAR"}, "found": {"LIGHT_DEAD"}}).is(http.StatusOK).says("Hetty Marlock: looked over", "was clear; rides here", "Do:")
	look(url.Values{"once": {"l1"}, "do": {"found"}, "end": {"REAR"}, "found": {"LIGHT_DEAD"}}).is(http.StatusOK).says("was clear; rides here") // sent twice
	look(url.Values{"once": {"l2"}, "do": {"found"}, "end": {"REAR"}, "found": {"LIGHT_LENT"}}).is(http.StatusUnprocessableEntity).says("how many minutes")
	look(url.Values{"once": {"l3"}, "do": {"found"}, "end": {"REAR"}, "found": {"LIGHT_LENT"}, "runtime_min": {"240,0"}}).is(http.StatusOK).says("rides here")
	look(url.Values{"once": {"l4"}, "do": {"found"}}).is(http.StatusUnprocessableEntity).says("say what it is about")
	b.open(at+"/riders/"+id(demo.Member)).is(http.StatusOK).says("Bike looked over: rear light dead", "a rear light lent for 240 min")
	b.open(at + "/riders/nobody").is(http.StatusNotFound)

	b.open(at+"/late").is(http.StatusOK).says("After the planned start, on the day of the ride.").saysNot("request", "2026-12-13T", "next minute")
	b.open(at+"/late?clock=10:50").is(http.StatusOK).says("Start 10:50 instead of 10:30", "Who stands worse", "Put back and publish")
	b.open(at+"/late?clock=14:30").is(http.StatusOK).says("lights are no longer enough", "What to do", "For ")
	if told := strings.Count(b.text(), "another front lamp that lasts at least 99 min"); told != 1 || !regexp.MustCompile(`add up\. For [^.]+, [^.]+ and [^.]+\.`).MatchString(b.text()) {
		t.Errorf("a remedy is told %d times, or not with all whom it helps:\n%s", told, b.text())
	}
	if b.open(at + "/late"); strings.Contains(b.page, `id="problem"`) {
		t.Error("what was not asked is refused")
	}
	b.open(at + "/late?clock=25:99").is(http.StatusUnprocessableEntity)
	b.open(at + "/late?clock=10:50&group=brisk").is(http.StatusOK).says("only Brisk")
	b.open(at + "/late?clock=10:50")
	back := url.Values{"once": {"p"}, "clock": {"10:50"}, "group": {""}, "etag": {field(b.page, "etag")}, "publish": {"true"}}
	b.send(at+"/late", back).is(http.StatusOK).says("is published", "Start 10:50", "issue 2")
	b.send(at+"/late", back).is(http.StatusOK).says("is published", "issue 2") // sent twice

	w.clock.TurnTo(start.Add(25 * time.Minute))
	mark(url.Values{"once": {"e"}, "what": {"SET_OFF"}, "m": {id(demo.Member), id("Imke Vard"), id("Noor Vasanthi")}}).says("out 3", "➤ out with the group")
	b.open(at + "/late?clock=11:30").is(http.StatusConflict).says("under way")
	b.send(at+"/close", url.Values{}).is(http.StatusConflict).says("Hetty Marlock")
	early := url.Values{"once": {"f"}, "what": {"HOME"}, "m": {id(demo.Member)}}
	mark(early).is(http.StatusUnprocessableEntity).says("too soon", "It is so: mark it")
	early.Set("early", "true")
	mark(early).is(http.StatusOK).says("home 1")
	b.open(at + "/riders/" + id(demo.Member))
	mark(url.Values{"once": {"g"}, "what": {"STRIKE"}, "m": {id(demo.Member)}, "strikes": {field(b.page, "strikes")}}).says("home 0", "out 3")
	mark(url.Values{"once": {"h"}, "what": {"TURNED_BACK"}, "m": {id("Noor Vasanthi")}, "note": {"with Ida, to the station"}}).says("turned back 1")
	mark(url.Values{"once": {"i"}, "what": {"IN_GROUP"}, "m": {id(demo.Member)}, "group": {"easy"}}).says("out 2")
	b.open(at + "/riders/" + id(demo.Member)).says("10:55. Easy.")
	w.clock.TurnTo(start.Add(9 * time.Hour))
	b.open(at).says("Overdue", "call the emergency services at once", "Hetty Marlock , Easy: out with the group")
	b.send(at+"/contacts", url.Values{"m": {id(demo.Member)}}).is(http.StatusOK).says("call the emergency number first", demo.Member)
	b.send(at+"/close", url.Values{"group": {"steady"}}).is(http.StatusConflict).says("Imke Vard")
	secretary := w.signIn(demo.Secretary)
	secretary.send(at+"/close", url.Values{"reason": {"all rang"}}).is(http.StatusOK).says("The roll call is closed", "⊘ closed").
		saysNot("All signed on but", "All set off but", "All home but", "What a late start does", "■ closed")
	secretary.open("/"+w.ride()).says("Start line").saysNot("You have a place", "Call off", "Place", "Edit")
	secretary.send(at+"/reopen", url.Values{"reason": {"Ida is out"}}).is(http.StatusOK).says("open again")
	w.signIn(demo.Member).open(at).is(http.StatusForbidden)
	w.stranger().open(at).is(http.StatusUnauthorized)
}

// field is the value of the first hidden field of a name.
func field(page, name string) string {
	_, after, _ := strings.Cut(page, `name="`+name+`" value="`)
	value, _, _ := strings.Cut(after, `"`)
	return value
}
