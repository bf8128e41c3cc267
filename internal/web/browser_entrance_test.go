//go:build browser

package web_test

import (
	"testing"

	"gritward/internal/demo"
)

// TestBrowserEntrance signs in by the link of an invite, at every size, with script and without.
func TestBrowserEntrance(t *testing.T) {
	w := newWorld(t)
	for _, size := range []screen{small, phone, desk} {
		for _, script := range []bool{true, false} {
			b := w.tabOf(t, "a member", size, script)
			b.open("/join/" + w.invite(demo.Member)).says("It works once").checked("invited")
			b.press("Sign in on this device").says("You are signed in").checked("signed in")
		}
	}
	b := w.tabOf(t, "a stranger", phone, true).dark()
	b.open("/").says("Sign in").checked("nobody")
	b.types("code", "marrowdale.WRONG").press("Sign in on this device").says("invite").checked("wrong invite")
}
