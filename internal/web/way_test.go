package web_test

import (
	"net/http"
	"strings"
	"testing"

	"gritward/internal/demo"
)

// TestOneWayIsHere: of the list of pages at most one is where somebody is, also where one's own record is among the members.
func TestOneWayIsHere(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Secretary)
	me := "/" + w.member(demo.Secretary)
	for path, want := range map[string]string{"/": "", me: "Me", me + "/devices": "Me", me + "/roles": "Me", me + "/bikes": "My bikes", me + "/bikes/new": "My bikes",
		"/" + w.club() + "/members": "Members", "/" + w.club() + "/invites": "Members", "/" + w.member(demo.Member): "Members", "/" + w.ride(): "Rides"} {
		nav, _, _ := strings.Cut(b.open(path).is(http.StatusOK).page, "</nav>")
		here := strings.Split(nav, ` aria-current="page">`)[1:]
		if len(here) > 1 || len(here) == 0 && want != "" || len(here) == 1 && !strings.HasPrefix(here[0], want+"</a>") {
			t.Errorf("%s: %q, want %q", path, here, want)
		}
	}
}
