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

// TestSignInGoesOn: who is asked in comes back to the page with all that its address asks, or to the button that was pressed.
func TestSignInGoesOn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	late := "/" + w.ride() + "/start/late?clock=10:50"
	b := w.stranger().open(late).is(http.StatusUnauthorized)
	in := url.Values{"code": {w.invite(demo.Leader)}, "device": {"phone"}, "then": {field(b.page, "then")}}
	b.send("/join", in).is(http.StatusOK).says("Start 10:50 instead of 10:30", "You are signed in on this device")

	b = w.stranger().send("/"+w.ride()+"/share", url.Values{}).is(http.StatusUnauthorized)
	in = url.Values{"code": {w.invite(demo.Leader)}, "device": {"phone"}, "then": {field(b.page, "then")}, "sent": {field(b.page, "sent")}}
	b.send("/join", in).is(http.StatusOK).says("has not been sent yet", "Send it now")
	if !strings.Contains(b.page, `action="/`+w.ride()+`/share"`) {
		t.Error(b.page)
	}
}

// TestSignedOut: the browser forgets the pages, but not what the start line has not sent; only a page that knows that nobody is
// signed in says so to the script that clears the start line.
func TestSignedOut(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	const nobody, somebody = `<body data-me="">`, `<body data-me="clubs/`
	for path, want := range map[string]string{"/": somebody, "/nowhere": somebody, "/join/x": "<body>", "/shared/x.y": "<body>"} {
		if b.open(path); !strings.Contains(b.page, want) {
			t.Errorf("%s has no %s", path, want)
		}
	}
	request, err := http.NewRequest(http.MethodPost, w.pages+"/leave", nil)
	if err != nil {
		t.Fatal(err)
	}
	response, err := b.client.Do(request)
	b.shown(response, err).is(http.StatusOK)
	if got := response.Header.Get("Clear-Site-Data"); got != `"cache"` || !strings.Contains(b.page, nobody) {
		t.Errorf("signed out with Clear-Site-Data %q: %s", got, b.page)
	}
	if b.open("/"); !strings.Contains(b.page, nobody) {
		t.Error("who is asked in is not told to be nobody")
	}
}
