//go:build browser

package web_test

import (
	"testing"

	"gritward/internal/demo"
	"gritward/internal/names"
)

// TestBrowserLeader looks at a leader's pages before the day, on a phone by day and on a desk by night.
func TestBrowserLeader(t *testing.T) {
	w := newWorld(t)
	ride := "/" + w.ride()
	hetty := names.Last(w.member(demo.Member))
	for _, b := range []*tab{w.tabOf(t, "leader", phone, true), w.tabOf(t, "leader", desk, true).dark()} {
		b.signIn(demo.Leader)
		for _, page := range []struct{ path, state string }{
			{"/" + w.club() + "/rides/new", "new"}, {"/" + w.club() + "/rides/new?like=" + names.Last(w.ride()), "new like"},
			{ride + "/edit", "edit"}, {ride + "/forecast", "forecast"}, {ride + "/plan", "plan"}, {ride + "/signups", "signups"},
			{ride + "/signups/" + hetty + "/change", "sign-up"}, {ride + "/guests/invite", "invite"}, {ride + "/guests/new", "guest"}, {ride + "/place", "place"},
			{ride + "/place/members/" + hetty, "pin"}, {ride + "/place/groups/easy", "pin group"}, {ride + "/letters", "letters"},
			{ride + "/call-off", "call off"}, {ride + "/contacts", "contacts"}, {"/" + w.club() + "/times", "times"},
		} {
			b.open(page.path).checked(page.state)
		}
	}
}
