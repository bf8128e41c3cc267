package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gritward/internal/demo"
)

func TestJoin(t *testing.T) {
	w := newWorld(t)
	code := w.invite(demo.Member)
	b := w.stranger()
	b.open("/join/" + code).is(http.StatusOK).says("It works once")
	b.send("/join", url.Values{"code": {" " + w.pages + "/join/" + code + "\n"}, "device": {"phone"}, "then": {"//elsewhere.example/"}})
	b.is(http.StatusOK).says("You are signed in on this device")
	if b.at != "/" {
		t.Errorf("led to %s", b.at)
	}
	again := w.stranger().send("/join", url.Values{"code": {code}, "device": {"phone"}, "then": {"/"}})
	again.is(http.StatusForbidden).says("invite")
}

// TestNothingTypedIsLost sends a form on a device that is signed in no more.
func TestNothingTypedIsLost(t *testing.T) {
	w := newWorld(t)
	b := w.stranger()
	typed := "blue <winter> bike"
	b.send("/leave", url.Values{"facts.title": {typed}, "once": {"abc"}}).is(http.StatusUnauthorized).says("Nothing you typed is lost")
	if !strings.Contains(b.page, `name="kept.facts.title" value="blue &lt;winter&gt; bike"`) {
		t.Fatal(b.page)
	}
	b.send("/join", url.Values{"code": {w.invite(demo.Member)}, "device": {"phone"}, "then": {"/leave"}, "kept.facts.title": {typed}})
	b.is(http.StatusOK).says("has not been sent yet")
	if !strings.Contains(b.page, `name="facts.title" value="blue &lt;winter&gt; bike"`) {
		t.Fatal(b.page)
	}
	b.send("/leave", url.Values{"facts.title": {typed}}).is(http.StatusOK).says("Signed out")
	b.open("/").is(http.StatusUnauthorized)
}

// TestForgery sends forms as other sites could have a browser do.
func TestForgery(t *testing.T) {
	w := newWorld(t)
	b := w.signIn(demo.Member)
	for _, header := range map[string][2]string{
		"by the browser's word": {"Sec-Fetch-Site", "cross-site"},
		"by the origin":         {"Origin", "https://elsewhere.example"},
	} {
		request, err := http.NewRequest(http.MethodPost, w.pages+"/leave", nil)
		if err != nil {
			t.Fatal(err)
		}
		request.Header.Set(header[0], header[1])
		response, err := b.client.Do(request)
		b.shown(response, err).is(http.StatusForbidden).says("sent from another site")
	}
	b.open("/").is(http.StatusOK)
}

func TestOtherNames(t *testing.T) {
	w := newWorld(t)
	request, err := http.NewRequest(http.MethodGet, w.pages, nil)
	if err != nil {
		t.Fatal(err)
	}
	request.Host = "elsewhere.example"
	response, err := http.DefaultClient.Do(request)
	w.stranger().shown(response, err).is(http.StatusMisdirectedRequest)
}

func TestLargeForm(t *testing.T) {
	w := newWorld(t)
	b := w.signIn(demo.Member)
	b.send("/leave", url.Values{"a": {strings.Repeat("x", 10<<20)}}).is(http.StatusRequestEntityTooLarge).says("More was sent than is taken")
	b.open("/").is(http.StatusOK)
}
