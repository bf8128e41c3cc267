//go:build browser

package web_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

// withoutScript plays a story on a phone and at a desk whose pages run no script.
func withoutScript(t *testing.T, story func(t *testing.T, w *world, size screen)) {
	t.Parallel()
	for _, size := range []screen{phone, desk} {
		t.Run(size.name, func(t *testing.T) {
			t.Parallel()
			story(t, newWorld(t), size)
		})
	}
}

// TestBrowserPlainMember plays a member who signs up, changes it and withdraws, and whose device is shut out in the middle of a form:
// nothing typed is lost.
func TestBrowserPlainMember(t *testing.T) {
	withoutScript(t, func(t *testing.T, w *world, size screen) {
		const ludo = "Ludo Bascroft"
		b := w.tabOf(t, "member", size, false).signIn(ludo)
		b.follow("Rides").follow("Four Becks").follow("Sign up").picks("signup.bike", w.member(ludo)+"/bikes/bike-1").press("Sign up").says("You are signed up")
		b.follow("Change bike or wish").unfold("With somebody, or ready to help").types("signup.party", "orchard").press("Keep the change").says("Together with orchard")
		b.open("/" + w.ride()).follow("Withdraw").unfold("Withdraw from the ride").press("Withdraw").says("You have withdrawn")

		b.follow("My bikes").follow("Declare another bike").types("facts.title", "typed for a long time")
		w.shutOut(ludo)
		b.press("Certify this bike").says("Nothing you typed is lost").types("code", w.invite(ludo)).press("Sign in on this device").says("has not been sent yet")
		b.press("Send it now").says("Certified. Thank you.", "typed for a long time")
	})
}

// TestBrowserPlainLeader plays a leader who publishes, goes back and presses again, and marks at the start line.
func TestBrowserPlainLeader(t *testing.T) {
	withoutScript(t, func(t *testing.T, w *world, size screen) {
		join := "/" + w.ride() + "/join"
		late := w.signIn("Ludo Bascroft")
		form := late.open(join).filledForm(join)
		form.Set("signup.bike", w.member("Ludo Bascroft")+"/bikes/bike-1")
		late.send(join, form).is(http.StatusOK).says("You are signed up")

		b := w.tabOf(t, "leader", size, false).signIn(demo.Leader)
		b.follow("Rides").follow("Four Becks").follow("Place").press("Publish issue 2").says("The roster is published")
		eval[bool](b, "history.back(), true")
		if b.waits("Who rides where"); strings.Contains(b.text(), "Publish issue 2") { // the page as the browser kept it
			b.pressKept("Publish issue 2").says("The roster is published")
		}
		if b.says("ssue 2"); w.issues() != 2 {
			t.Errorf("going back and pressing again made %d issues", w.issues())
		}
		b.open(w.start())
		if !eval[bool](b, `!!document.querySelector("[data-later]")`) {
			t.Error("the start line ran its script, which takes that element away")
		}
		b.press("Sign on").says("It is marked", "at the start 1")
	})
}

// unfold opens what is folded, by its words.
func (b *tab) unfold(words string) *tab {
	b.t.Helper()
	b.does(chromedp.Click(chromedp.Search(fmt.Sprintf("//summary[normalize-space()=%q]", words))))
	return b
}

// pressKept presses a button, by the Enter key, of a page that the browser had kept and brought back: chromedp is not told of the
// elements of such a page, so that press finds none.
func (b *tab) pressKept(words string) *tab {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf("([...document.querySelectorAll('button')].find(e => e.innerText === %s).focus(), true)", quoted(words)))
	return b.leads(stroke(kb.Enter))
}

// shutOut shuts a member's newest device out.
func (w *world) shutOut(name string) {
	w.t.Helper()
	clubs := pb.NewClubServiceClient(w.conn)
	devices, err := clubs.ListDevices(w.as(name), &pb.ListDevicesRequest{Parent: w.member(name)})
	if err != nil {
		w.t.Fatal(err)
	}
	latest := slices.MaxFunc(devices.Devices, func(a, b *pb.Device) int { return a.CreatedAt.AsTime().Compare(b.CreatedAt.AsTime()) })
	if _, err := clubs.RevokeDevice(w.as(name), &pb.RevokeDeviceRequest{Name: latest.Name}); err != nil {
		w.t.Fatal(err)
	}
}
