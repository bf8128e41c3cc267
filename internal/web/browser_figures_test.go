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
)

// TestBrowserPagesAreLight weighs every kind of page in a browser that has nothing of it yet, and looks whether anything moves after it
// is first seen (layout shift, as the Layout Instability specification of the W3C's WICG counts it).
func TestBrowserPagesAreLight(t *testing.T) {
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
			weight, paint, shift := b.weighed(path)
			t.Logf("%-10s %-45s %6d bytes, first paint after %4.0f ms, layout shift %.4f", who.is, shapeOf(path), weight, paint, shift)
			if weight > maxWeight {
				t.Errorf("%s weighs %d bytes, more than %d", path, weight, maxWeight)
			}
			if shift > 0 {
				t.Errorf("%s moves by %.4f after it is first seen", path, shift)
			}
		}
	}
}

// weighed opens a page with nothing kept, over slow telephony.
func (b *tab) weighed(path string) (weight int, paintMs, shift float64) {
	b.t.Helper()
	ctx, cancel := context.WithCancel(b.ctx)
	defer cancel()
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, network.ClearBrowserCache, cdp.Empty{}); err != nil {
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
	paintMs = eval[float64](b, `performance.getEntriesByName("first-contentful-paint")[0].startTime`)
	shift = eval[float64](b, `new Promise(done => { let sum = 0;
		new PerformanceObserver(l => { for (const e of l.getEntries()) if (!e.hadRecentInput) sum += e.value; }).observe({type: "layout-shift", buffered: true});
		setTimeout(() => done(sum), 1000); })`)
	for {
		select {
		case n := <-total:
			weight += n
		default:
			return weight, paintMs, shift
		}
	}
}

// BenchmarkFirstPaint tells how long the roster's page takes until it is first painted over slow telephony, beside its limit.
func BenchmarkFirstPaint(b *testing.B) {
	w := newWorld(b)
	w.grown(60, 40)
	at := w.tabOf(b, "a member", phone, true).signIn(demo.Member)
	path := "/" + w.ride() + "/rosters/2"
	worst := 0.0
	for b.Loop() {
		_, paint, _ := at.weighed(path)
		worst = max(worst, paint)
	}
	b.ReportMetric(worst, "ms-slowest")
	b.ReportMetric(worst/float64(paintLimit.Milliseconds()), "of-limit")
}
