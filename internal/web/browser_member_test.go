//go:build browser

package web_test

import (
	"testing"

	"gritward/internal/demo"
	"gritward/internal/names"
)

// TestBrowserDeclare declares the commonest winter bike as a member who stands beside it does, on a phone: every tap is counted,
// from the first page on, with and without a script.
func TestBrowserDeclare(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, script := range []bool{true, false} {
		who := map[bool]string{true: "member", false: "member without script"}[script]
		b := w.tabOf(t, who, phone, script).signIn(demo.Member)
		taps := 2
		b.follow("My bikes").follow("Declare another bike").checked("begun")
		tap := func(name, value string) {
			b.picks(name, value)
			taps++
		}
		for _, part := range []string{"guards", "brakes", "tyres", "bearings", "contact"} {
			tap("look."+part, "true")
		}
		tap("facts.frame.damage_open", "false")
		taps++ // into the field; the figure is typed
		b.types("look.pad_mm", "4")
		if script {
			b.picks("facts.guards.rear.flap", "false").picks("facts.guards.rear.reach", "ABOVE_HUB").waits("back of the group: front: full guard; rear: full guard, no flap")
			b.checked("answered").picks("facts.guards.rear.flap", "true").picks("facts.guards.rear.reach", "BELOW_HUB")
			b.until(`!document.getElementById("says-guards").innerText.includes("back of the group")`)
		} else {
			b.press("See what the club says").says("by day").checked("answered")
		}
		b.press("Certify this bike").says("Certified. Thank you.", "by day: △ advice")
		taps++
		b.checked("certified")
		t.Logf("%s: %d taps and one figure typed", who, taps)
		if taps > 10 {
			t.Errorf("%s needs %d taps", who, taps)
		}
	}
}

// TestBrowserMember plays a member's days on a phone and a small one: certify again in two taps, one more device, one more lamp,
// the place on a ride and why.
func TestBrowserMember(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.tabOf(t, "silas", phone, true).signIn("Silas Whinfell")
	b.checked("home").follow("Certify again").checked("again").press("All of it is true today: certify").says("Certified. Thank you.")
	hetty := w.tabOf(t, "hetty", small, true).signIn(demo.Member)
	me := "/" + w.member(demo.Member)
	hetty.open(me + "/devices").press("Let one more device in").checked("one more device")
	hetty.open(me+"/bikes/new").types("facts.lights[0].runtime_min", "90").picks("facts.guards.front.kind", "NONE").waits("front: no guard")
	hetty.press("One more rear lamp").says("Rear lamp 2").checked("three lamps")
	hetty.open("/" + w.ride() + "/join").checked("join")
	hetty.open("/" + w.ride() + "/signups/" + names.Last(w.member(demo.Member))).checked("place")
}
