//go:build browser

package web_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"gritward/internal/demo"
)

// TestBrowserSecretary plays the secretary's story: a mistake in the policy, whom a change affects, adopting it, an invite, a
// member's roles and suspension, the season. With script and on a phone, without and at a desk.
func TestBrowserSecretary(t *testing.T) {
	w := newWorld(t)
	for _, size := range []struct {
		screen
		script bool
	}{{phone, true}, {desk, false}} {
		b := w.tabOf(t, "secretary", size.screen, size.script).signIn(demo.Secretary)
		club := "/" + w.club()
		b.open(club + "/policies").says("The policy in force").checked("policy")
		b.follow("Edit it").says("Edit the policy").checked("editor")
		b.edits("check: guards\\n", "check: gards\\n")
		if size.script {
			b.waits("Line 193, column 12").checked("told while typing")
			b.does(chromedp.Click(chromedp.CSS("a[data-line]")))
			if at := eval[string](b, "(e => e.value.slice(e.selectionStart, e.selectionEnd))(document.activeElement)"); at != "gards" {
				b.t.Errorf("the mistake leads to %q", at)
			}
		}
		b.press("See whom it affects").says("It cannot be adopted yet", "gards").checked("mistake")
		b.edits("check: gards\\n", "check: guards\\n")
		if size.script {
			b.edits("otherwise: back", "otherwise: hold").waits("Nothing is wrong with it")
		} else {
			b.edits("otherwise: hold\\n    because: A bare", "otherwise: back\\n    because: A bare")
		}
		b.press("See whom it affects").says("would stand otherwise").checked("preview")
		b.types("note", "tried").press("Adopt it").says("The policy is adopted").checked("adopted")
		b.open(club + "/policies/compare?earlier=1&later=2").says("hold").checked("compared")
		b.open(club + "/policies/1/restore").says("Restore policy 1?").checked("restore")

		b.open(club + "/members").checked("members")
		b.follow("Invite somebody").types("invite.display_name", "Per Lund").press("Make the invite").says("Hand this over").checked("invited")
		b.follow("To the invites").says("Per Lund").checked("invites")
		b.open("/" + w.member(demo.Member)).checked("member")
		b.does(chromedp.Click(chromedp.CSS("[name='member.may_lead']")))
		b.press("Keep these").says("It is kept")
		b.follow("What that does, and suspend").checked("suspend").press("Suspend " + demo.Member).says("every device refused").checked("suspended")
		b.press("Let " + demo.Member + " in again").says("let in again")
		b.open(club + "/season").says("In numbers").checked("season")
		b.open(club + "/audit").says("Audit log").checked("audit")
		b.open(club + "/incidents").checked("incidents")
		b.open("/" + w.ride() + "/incidents").says("Write down what happened").checked("incident asked")
	}
}

// edits puts one text for another in the editor, as if it were typed.
func (b *tab) edits(from, to string) *tab {
	b.t.Helper()
	eval[bool](b, strings.NewReplacer("FROM", from, "TO", to).Replace(`(e => { e.value = e.value.replace("FROM", "TO");
		e.dispatchEvent(new Event("input", {bubbles: true})); return true })(document.querySelector("[name=policy]"))`))
	return b
}
