package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"gritward/internal/demo"
)

// TestStartLine plays a ride day at the start line without script.
func TestStartLine(t *testing.T) {
	w := newWorld(t)
	b := w.signIn(demo.Leader)
	at := "/" + w.ride() + "/start"
	b.open(at).is(http.StatusOK).says("not seen", "Signed on", "Hetty Marlock")
	t.Log(len(b.page), b.text())
	_ = url.Values{}
}
