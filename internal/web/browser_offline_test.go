//go:build browser

package web_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"gritward/internal/demo"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// TestBrowserPhoneRestarts ends a phone's browser, and kills it while it has no signal and marks that are not sent: started again without
// a signal, it has the page of the start line and the marks, and sends them in order when the signal is back.
func TestBrowserPhoneRestarts(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	folder := t.TempDir()
	b, off, _ := w.phoneOf(t, "the leader", folder)
	b.signIn(demo.Leader).open(w.start()).readyForNoSignal()
	off()

	b, _, killed := w.phoneOf(t, "the leader, started again", folder)
	b.offline(true).open(w.start()).waits("No signal")
	b.taps(w, "Hetty Marlock").waits("1 mark on this phone not sent").taps(w, "Imke Vard").waits("2 marks on this phone not sent")
	killed()

	b, off, _ = w.phoneOf(t, "the leader, started after the battery was empty", folder)
	b.offline(true).open(w.start()).waits("2 marks on this phone not sent").waits("No signal").waits("✓ signed on")
	b.taps(w, "Noor Vasanthi").waits("3 marks on this phone not sent")
	if n := len(w.marks()); n != 0 {
		t.Fatalf("%d marks came through without a signal", n)
	}
	b.offline(false).waits("Everything is sent")
	var sent []string
	for _, mark := range w.marks() {
		sent = append(sent, mark.Member)
	}
	if want := []string{w.member("Hetty Marlock"), w.member("Imke Vard"), w.member("Noor Vasanthi")}; !slices.Equal(sent, want) {
		t.Errorf("sent %v, want %v", sent, want)
	}
	off()
}

// TestBrowserTwoPhonesDisagree has two leaders without a signal mark the same rider differently. Whoever is first through, both phones and
// the server come to the same: what was marked last counts, both marks are there, and that they do not fit together is told.
func TestBrowserTwoPhonesDisagree(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	one := w.tabOf(t, "the leader", phone, true).signIn(demo.Leader)
	two := w.tabOf(t, "the secretary", phone, true).signIn(demo.Secretary)
	hetty := names.Last(w.member(demo.Member))
	one.open(w.start()).readyForNoSignal().offline(true)
	w.signal.cut(false)
	two.open(w.start()).readyForNoSignal().offline(true)

	one.touches("#r-" + hetty + " a").touches("#panel button[value=NO_SHOW]").waits("1 mark on this phone not sent")
	two.taps(w, demo.Member).waits("1 mark on this phone not sent")
	for _, b := range []*tab{two, one} { // who marked last is through first
		b.offline(false).waits("Everything is sent")
	}
	call, err := pb.NewRollCallServiceClient(w.conn).GetRollCall(w.as(demo.Leader), &pb.GetRollCallRequest{Name: w.ride()})
	if err != nil {
		t.Fatal(err)
	}
	if len(w.marks()) != 2 {
		t.Fatalf("the server has %v", w.marks())
	}
	at := slices.IndexFunc(call.Riders, func(r *pb.RiderRoll) bool { return r.Member == w.member(demo.Member) })
	if rider := call.Riders[at]; rider.State != pb.RiderRoll_SIGNED_ON || !strings.Contains(strings.Join(rider.Doubts, "; "), "marked as not come at") {
		t.Errorf("the server says %v", rider)
	}
	for _, b := range []*tab{one, two} {
		eval[bool](b, `dispatchEvent(new Event("focus"))`)
		b.until(fmt.Sprintf(`document.querySelector("#r-%s .where").textContent.includes("signed on")`, hetty))
		b.until(`document.querySelector("#doubts ul").textContent.includes("marked as not come at")`)
		b.touches("#r-" + hetty + " a")
		if marked := eval[string](b, `document.getElementById("panel-marks").textContent`); !strings.Contains(marked, "Did not come") || !strings.Contains(marked, "Signed on") || strings.Contains(marked, "not sent") {
			t.Errorf("%s sees these marks: %s", b.who, marked)
		}
	}
}

// drops drops a file on the page, as from another window.
func (b *tab) drops(file string) *tab {
	b.t.Helper()
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		for _, what := range []input.DispatchDragEventType{input.DispatchDragEventTypeDragEnter, input.DispatchDragEventTypeDragOver, input.DispatchDragEventTypeDrop} {
			data := &input.DragData{Items: []*input.DragDataItem{}, Files: []string{file}, DragOperationsMask: 1}
			if _, err := chromedp.Call(ctx, input.DispatchDragEvent, input.DispatchDragEventParams{Type: what, X: 300, Y: 400, Data: data}); err != nil {
				return err
			}
		}
		return nil
	}))
	return b
}

// TestBrowserDrop drops route files anywhere on the page of a new ride: one too large is told before it is sent, a form that is refused
// keeps its file, and the ride is made of it.
func TestBrowserDrop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	folder := t.TempDir()
	route, large := filepath.Join(folder, "four-becks.gpx"), filepath.Join(folder, "large.gpx")
	if err := os.WriteFile(route, demo.Route, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(large, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(large, 50<<20); err != nil {
		t.Fatal(err)
	}
	b := w.tabOf(t, "the leader", desk, true).signIn(demo.Leader)
	b.open("/"+w.club()+"/rides/new").types("ride.title", "Dropped").types("ride.meeting_point", "The weighbridge")
	at := func(when string) {
		eval[bool](b, fmt.Sprintf(`(document.querySelector("[name='ride.start_local']").value = %q, true)`, when))
	}
	at("2027-03-28T01:30") // no such time: the clocks go forward
	b.drops(large).waits("“large.gpx” has 50 MiB; 16 MiB at most are taken.")
	if eval[bool](b, `document.querySelector("form[data-drop]").checkValidity()`) {
		t.Error("a form with a file too large could be sent")
	}
	b.drops(route).waits("“four-becks.gpx” is sent with the form.")
	b.does(chromedp.Click(chromedp.Search(`(//button[normalize-space()="Make the ride"])[1]`)))
	b.waits("01:30 does not exist in Europe/London").waits("“four-becks.gpx” is sent with the form.").checked("refused")
	at("2027-03-28T10:30")
	b.press("Make the ride").says("The ride is made", "Dropped", "77.9 km")
}
