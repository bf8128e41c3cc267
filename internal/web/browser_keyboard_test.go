//go:build browser

package web_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"gritward/internal/demo"
	"gritward/internal/names"
)

// mostTabs is how often somebody presses the tabulator on one page before giving up.
const mostTabs = 400

// reach moves by the tabulator alone to what has these words on it, is labelled so, or is the field of that name; and sees
// where the focus is.
func (b *tab) reach(words string) *tab {
	b.t.Helper()
	for range mostTabs {
		b.does(chromedp.KeyEvent("\t"))
		if eval[bool](b, fmt.Sprintf(`(e => [e.innerText, e.name, e.labels && e.labels[0] && e.labels[0].innerText].some(t => t && t.replace(/\s+/g, " ").trim() === %s))(document.activeElement)`, quoted(words))) {
			if !eval[bool](b, `document.activeElement.matches(":focus-visible") && getComputedStyle(document.activeElement).outlineStyle !== "none"`) {
				b.t.Errorf("%s: nothing shows that %q has the focus", b.who, words)
			}
			return b
		}
	}
	b.picture("not reached")
	b.t.Fatalf("%s: the tabulator does not lead to %q at %s", b.who, words, eval[string](b, "location.pathname"))
	return b
}

// enter presses the enter key on what was reached, which loads another page.
func (b *tab) enter(words string) *tab {
	b.t.Helper()
	b.reach(words)
	return b.leads(chromedp.KeyEvent("\r"))
}

// keys types into the field that was reached, over what stands there.
func (b *tab) keys(name, text string) *tab {
	b.t.Helper()
	b.reach(name)
	eval[bool](b, `(e => { if (e.select) e.select(); return true })(document.activeElement)`)
	b.does(chromedp.KeyEvent(text))
	return b
}

// TestBrowserKeyboard has a member, a leader and a secretary do their parts with the keyboard alone.
func TestBrowserKeyboard(t *testing.T) {
	w := newWorld(t)
	member := w.tabOf(t, "a member", desk, true)
	member.open("/join/" + w.invite(demo.Member)).enter("Sign in on this device").says("You are signed in")
	member.enter("My bikes").enter("Certify again").enter("All of it is true today: certify").says("Certified. Thank you.")
	member.enter("Rides").enter("Four Becks").enter("Change bike or group")
	member.says("mint winter bike")
	member.open("/" + w.ride() + "/signups/" + names.Last(w.member(demo.Member))).reach("Withdraw from the ride").does(chromedp.KeyEvent("\r"))
	member.says("Why")

	leader := w.tabOf(t, "the leader", desk, true).signIn(demo.Leader)
	leader.enter("Four Becks").enter("Start line").until(`document.querySelector("main").innerText.includes("Osric Penhale")`)
	leader.reach("Sign on")
	leader.does(chromedp.KeyEvent("\r"))
	leader.waits("signed on")
	leader.open("/" + w.ride() + "/place").enter("Publish issue 2").says("issue 2")

	secretary := w.tabOf(t, "the secretary", desk, true).signIn(demo.Secretary)
	secretary.enter("Members").enter("Invite somebody").keys("invite.display_name", "Per Lund").enter("Make the invite").says("Hand this over")
	secretary.enter("Policy").enter("Edit it").reach("policy").does(chromedp.KeyEvent("# By keyboard. "))
	secretary.enter("See whom it affects").keys("note", "by keyboard").enter("Adopt it").says("The policy is adopted")
}
