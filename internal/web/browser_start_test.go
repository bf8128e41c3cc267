//go:build browser

package web_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"gritward/internal/demo"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// start is the path of the start line of Sunday's ride.
func (w *world) start() string { return "/" + w.ride() + "/start" }

// marks are those of the ride, in the order in which the server had them.
func (w *world) marks() []*pb.Mark {
	w.t.Helper()
	answer, err := pb.NewRollCallServiceClient(w.conn).ListMarks(w.as(demo.Leader), &pb.ListMarksRequest{Parent: w.ride(), PageSize: 1000})
	if err != nil {
		w.t.Fatal(err)
	}
	return answer.Marks
}

// readyForNoSignal waits until the page and all it needs are on the phone.
func (b *tab) readyForNoSignal() *tab {
	b.t.Helper()
	b.waits("As of")
	eval[bool](b, `navigator.serviceWorker.ready.then(async () => {
		while (!(await caches.match(location.pathname))) await new Promise(done => setTimeout(done, 50));
		return true; })`)
	return b
}

// taps taps the one button of a rider in the list.
func (b *tab) taps(w *world, name string) *tab {
	b.t.Helper()
	return b.touches("#r-" + names.Last(w.member(name)) + " button")
}

// touches brings something away from the bar at the foot of the screen, and taps it.
func (b *tab) touches(selector string) *tab {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf(`(e => { e.scrollIntoView({block: "center", behavior: "instant"}); return true })(document.querySelector(%s))`, quoted(selector)))
	b.does(chromedp.Click(chromedp.CSS(selector)))
	return b
}

// TestBrowserStartLineWithoutSignal marks riders without a signal, on a phone whose clock is days wrong, closes the page, opens it again, and
// has the signal back: the server has each mark once, in order, with the time at which it was made.
func TestBrowserStartLineWithoutSignal(t *testing.T) {
	w := newWorld(t)
	b := w.tabOf(t, "the leader", phone, true).signIn(demo.Leader)
	b.open(w.start()).readyForNoSignal().checked("start line")
	b.says("Everything is sent", "clock is", "put right")
	b.offline(true)
	before := w.clock.Now()
	riders := []string{"Hetty Marlock", "Imke Vard", "Noor Vasanthi"}
	for _, name := range riders {
		b.taps(w, name)
		b.waits(name + ": signed on")
	}
	after := w.clock.Now()
	b.waits("3 marks on this phone not sent").waits("No signal").says("signed on")
	b.checked("no signal")
	b.does(chromedp.Navigate("about:blank"))
	b.open(w.start()).waits("3 marks on this phone not sent").waits("No signal").says("✓ signed on")
	if n := len(w.marks()); n != 0 {
		t.Fatalf("%d marks came through without a signal", n)
	}
	b.offline(false)
	b.waits("Everything is sent")
	marks := w.marks()
	if len(marks) != len(riders) {
		t.Fatalf("%d marks: %v", len(marks), marks)
	}
	for i, mark := range marks {
		at := rollcall.At(mark)
		if mark.Member != w.member(riders[i]) || mark.What != pb.Mark_SIGNED_ON || at.Before(before.Add(-time.Second)) || at.After(after.Add(time.Second)) {
			t.Errorf("mark %d, made between %v and %v: %v", i, before, after, mark)
		}
		if mark.ClockAhead == nil {
			t.Errorf("the phone's clock was days wrong, which nobody noticed: %v", mark)
		}
	}
}

// TestBrowserTwoPhones has two leaders mark, one of them without a signal: each sees what the other marked, and what one
// marks home later by its own time counts, whoever comes through first.
func TestBrowserTwoPhones(t *testing.T) {
	w := newWorld(t)
	one := w.tabOf(t, "the leader", phone, true).signIn(demo.Leader)
	two := w.tabOf(t, "the secretary", phone, true).signIn(demo.Secretary)
	one.open(w.start()).readyForNoSignal()
	two.open(w.start()).readyForNoSignal()
	one.taps(w, demo.Member).waits("Everything is sent")
	eval[bool](two, `dispatchEvent(new Event("focus"))`)
	two.until(fmt.Sprintf(`document.querySelector("#r-%s .where").textContent.includes("signed on")`, names.Last(w.member(demo.Member))))
}

// TestBrowserSessionEnds shuts a phone out while it has no signal: what it marked stays, is shown to nobody else, and goes when its
// member is signed in again.
func TestBrowserSessionEnds(t *testing.T) {
	w := newWorld(t)
	b := w.tabOf(t, "the leader", phone, true).signIn(demo.Leader)
	b.open(w.start()).readyForNoSignal()
	const kept = `localStorage.getItem("start line of") !== null`
	b.until(kept)
	if b.open("/shared/marrowdale.none"); !eval[bool](b, kept) {
		t.Error("a page for anyone takes the start line off the phone of who is signed in")
	}
	b.open(w.start())
	b.offline(true)
	b.taps(w, demo.Member).waits("1 mark on this phone not sent")
	w.shutOut(demo.Leader)
	b.offline(false)
	b.waits("You are signed out").says("1 mark on this phone not sent", "until "+demo.Leader+" is signed in")
	if b.open("/"); eval[bool](b, kept) {
		t.Error("who is asked in is left the start line of another")
	}
	b.signIn(demo.Secretary).open(w.start()).readyForNoSignal()
	b.waits("1 mark of another member on this phone not sent")
	if n := len(w.marks()); n != 0 {
		t.Fatalf("%d marks were sent in another's name", n)
	}
	b.offline(true).open(w.start()).waits("No signal")
	if text := b.text(); strings.Contains(text, "Hetty Marlock: signed on") {
		t.Errorf("another member sees what was marked: %s", text)
	}
	b.offline(false).waits("Everything is sent")
	b.signIn(demo.Leader).open(w.start()).waits("Everything is sent")
	if marks := w.marks(); len(marks) != 1 || !strings.HasPrefix(marks[0].Device, w.member(demo.Leader)) {
		t.Fatalf("%v", marks)
	}
}

// TestBrowserRefused has the server refuse a kept mark: it is put aside with the server's words, and does not hold up what comes
// behind it.
func TestBrowserRefused(t *testing.T) {
	w := newWorld(t)
	b := w.tabOf(t, "the leader", phone, true).signIn(demo.Leader)
	b.open(w.start()).readyForNoSignal()
	b.offline(true)
	b.touches("#r-" + names.Last(w.member(demo.Member)) + " a").touches("#panel button[value=HOME]")
	b.taps(w, "Imke Vard").waits("2 marks on this phone not sent")
	b.offline(false)
	b.waits("Refused: Hetty Marlock, home").says("Nobody is home before the ride has started", "Everything is sent")
	if marks := w.marks(); len(marks) != 1 || marks[0].Member != w.member("Imke Vard") {
		t.Fatalf("%v", marks)
	}
	b.checked("refused")
	b.does(chromedp.Click(chromedp.Search(`(//button[normalize-space()="I have seen it"])[1]`)))
	b.until(`!document.getElementById("said").textContent.includes("Refused")`)
}

// TestBrowserCalledOffMeanwhile calls the ride off while a phone has marks that are not sent: with a signal again, the page says what
// became of them, though nothing can be marked on it any more.
func TestBrowserCalledOffMeanwhile(t *testing.T) {
	w := newWorld(t)
	b := w.tabOf(t, "the leader", phone, true).signIn(demo.Leader)
	b.open(w.start()).readyForNoSignal()
	b.offline(true)
	b.taps(w, demo.Member).waits("1 mark on this phone not sent")
	b.does(chromedp.Navigate("about:blank"))
	ride, err := pb.NewRideServiceClient(w.conn).CallOffRide(w.as(demo.Leader), &pb.CallOffRideRequest{Name: w.ride(), Reason: "Black ice on the lanes"})
	if err != nil || ride.State != pb.Ride_CALLED_OFF {
		t.Fatal(ride, err)
	}
	b.offline(false).open(w.start())
	b.waits("Refused: Hetty Marlock, signed on").says("The ride is called off: Black ice on the lanes").checked("called off")
	if text := b.text(); strings.Contains(text, "not sent") || strings.Contains(text, "All signed on but") {
		t.Errorf("what is sent is told as not sent, or something can be marked: %s", text)
	}
	if n := len(w.marks()); n != 0 {
		t.Errorf("%d marks are recorded", n)
	}
	b.does(chromedp.Click(chromedp.Search(`(//button[normalize-space()="I have seen it"])[1]`)))
	b.until(`!document.getElementById("said").textContent.includes("Refused")`)
	b.touches("#r-" + names.Last(w.member(demo.Member)) + " a").waits("Back to the start line") // nothing is marked: it leads to the rider
}

// TestWorkerIsAllowed: the worker may answer for pages of rides, which lie outside its own folder.
func TestWorkerIsAllowed(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	response, err := http.Get(w.pages + "/static/worker.js")
	if err != nil {
		t.Fatal(err)
	}
	_ = response.Body.Close()
	if response.Header.Get("Service-Worker-Allowed") != "/clubs/" || !strings.HasPrefix(response.Header.Get("Content-Type"), "text/javascript") {
		t.Errorf("%v", response.Header)
	}
}
