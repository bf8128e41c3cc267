//go:build browser

package web_test

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"gritward/internal/demo"
)

const (
	// maxWeight is the most that a page may weigh, in bytes over the network, with everything that it loads, nothing kept from
	// before.
	maxWeight = 100_000
	// paintLimit is the time to the first paint, over slow third-generation telephony.
	paintLimit = 1500 * time.Millisecond
	// paintReserve is kept of it for the work of server and browser, which is not the network's.
	paintReserve = 100 * time.Millisecond
)

// leastPaint is how long slow telephony takes over what a browser must have before it paints: an answer for the page, one for what
// stands in its head, and the bytes of both. Like slow3G, it is the same on every machine.
func leastPaint(blocking int) time.Duration {
	return 2*slowLatency + time.Duration(blocking)*time.Second/slowBytes
}

// TestBrowserPagesAreLight weighs every kind of page in a browser that has nothing of it yet, and looks whether anything moves after it
// is first seen (layout shift, as the Layout Instability specification of the W3C's WICG counts it).
func TestBrowserPagesAreLight(t *testing.T) {
	t.Parallel() // what it asserts is counted, and does not hang on what else is done
	w := newWorld(t)
	w.grown(60, 40)
	seen := map[string]bool{}
	for _, who := range people {
		b := w.tabOf(t, who.is, phone, true).signIn(who.name)
		for _, path := range kinds(walk(t, w.signIn(who.name), false)) {
			if seen[shapeOf(path)] {
				continue
			}
			seen[shapeOf(path)] = true
			got := b.weighed(path)
			least := leastPaint(got.blocking)
			t.Logf("%-10s %-45s %6d bytes, %6d before it is painted: after %d ms at the earliest, %4.0f ms here and now; layout shift %.4f",
				who.is, shapeOf(path), got.weight, got.blocking, least.Milliseconds(), got.paintMs, got.shift)
			if got.weight > maxWeight || got.blocking == 0 {
				t.Errorf("%s weighs %d bytes, more than %d", path, got.weight, maxWeight)
			}
			if least+paintReserve > paintLimit {
				t.Errorf("%s needs %d bytes before it is painted, which take %s", path, got.blocking, least)
			}
			if got.shift > 0 {
				t.Errorf("%s moves by %.4f after it is first seen", path, got.shift)
			}
		}
	}
}

// weights are what a page was found to weigh.
type weights struct {
	// weight is in bytes; blocking is how much of it must be there before the page is painted.
	weight, blocking int
	paintMs, shift   float64
}

// weighed opens a page with nothing kept, over slow telephony.
func (b *tab) weighed(path string) (got weights) {
	b.t.Helper()
	ctx, cancel := context.WithCancel(b.ctx)
	defer cancel()
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, network.ClearBrowserCache, cdp.Empty{}); err != nil {
			return err
		}
		if _, err := chromedp.Call(ctx, network.SetBypassServiceWorker, network.SetBypassServiceWorkerParams{Bypass: true}); err != nil {
			return err
		}
		_, err := chromedp.Call(ctx, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: true})
		return err
	}))
	b.slow3G()
	total := make(chan int, 1000)
	if err := chromedp.Listen(ctx, func(event any) {
		if e, ok := event.(*network.EventLoadingFinished); ok {
			total <- int(e.EncodedDataLength)
		}
	}); err != nil {
		b.t.Fatal(err)
	}
	b.open(path)
	b.until(`performance.getEntriesByName("first-contentful-paint").length > 0`)
	got.paintMs = eval[float64](b, `performance.getEntriesByName("first-contentful-paint")[0].startTime`)
	got.blocking = eval[int](b, `performance.getEntriesByType("navigation")[0].transferSize +
		performance.getEntriesByType("resource").filter(r => r.renderBlockingStatus === "blocking").reduce((sum, r) => sum + r.transferSize, 0)`)
	got.shift = eval[float64](b, `new Promise(done => { let sum = 0;
		new PerformanceObserver(l => { for (const e of l.getEntries()) if (!e.hadRecentInput) sum += e.value; }).observe({type: "layout-shift", buffered: true});
		setTimeout(() => done(sum), 1000); })`)
	for {
		select {
		case n := <-total:
			got.weight += n
		default:
			return got
		}
	}
}

// BenchmarkFirstPaint tells how long the pages of the roster and of the start line, the two largest, take until they are first painted over
// slow telephony, beside their limit.
func BenchmarkFirstPaint(b *testing.B) {
	w := newWorld(b)
	w.grown(60, 40)
	at := w.tabOf(b, "the leader", phone, true).signIn(demo.Leader)
	worst := 0.0
	for b.Loop() {
		for _, path := range []string{"/" + w.ride() + "/rosters/2", "/" + w.ride() + "/start"} {
			worst = max(worst, at.weighed(path).paintMs)
		}
	}
	b.ReportMetric(worst, "ms-slowest")
	b.ReportMetric(worst/float64(paintLimit.Milliseconds()), "of-limit")
}
