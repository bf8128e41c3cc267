//go:build browser

package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// The pages are held against a real browser (Debian's chromium), an accessibility checker (axe-core) and a validator of
// HTML (the Nu Html Checker, vnu). The last two come from npm, as .ci/browser says.

// patience bounds what a browser is waited for. It is no measure of speed.
const patience = 90 * time.Second

// screen is a size to look at pages at.
type screen struct {
	name          string
	width, height int64
	phone         bool
}

var (
	phone = screen{"phone", 390, 844, true}
	small = screen{"small phone", 320, 568, true}
	desk  = screen{"desk", 1280, 900, false}
)

// chromium is the one browser of all tests; each tab of it has cookies of its own.
var chromium = sync.OnceValues(func() (context.Context, error) {
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox) // tests may run as root
	allocated, _ := chromedp.NewExecAllocator(context.Background(), options...)    // ends with the process
	ctx, _ := chromedp.NewContext(allocated)
	return ctx, chromedp.Do(ctx)
})

// tab is somebody's tab in a real browser.
type tab struct {
	t    testing.TB
	w    *world
	ctx  context.Context
	size screen
	// script: pages run theirs.
	script bool
	// who says in the names of pictures whose tab it is.
	who string

	mu sync.Mutex
	// wrong are complaints of the browser, and requests that went elsewhere.
	wrong []string
}

// tabOf opens a tab of its own, with or without script.
func (w *world) tabOf(t testing.TB, who string, size screen, script bool) *tab {
	t.Helper()
	base, err := chromium()
	if err != nil {
		t.Fatalf("chromium does not start: %v", err)
	}
	b := &tab{t: t, w: w, size: size, who: who, script: script}
	ctx, cancel := chromedp.NewContext(base, chromedp.WithNewBrowserContext(), chromedp.WithListener(b.heard))
	t.Cleanup(cancel)
	return b.begun(ctx)
}

// phoneOf is a tab of a browser of its own, which keeps in a folder what a phone keeps. Its process ends with off, or is killed.
func (w *world) phoneOf(t testing.TB, who, folder string) (b *tab, off, killed func()) {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.UserDataDir(folder))
	allocated, _ := chromedp.NewExecAllocator(context.Background(), options...)
	b = &tab{t: t, w: w, size: phone, who: who, script: true}
	ctx, cancel := chromedp.NewContext(allocated, chromedp.WithListener(b.heard))
	t.Cleanup(cancel)
	b.begun(ctx)
	off = func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Fatalf("%s's browser does not end: %v", who, err)
		}
	}
	killed = func() {
		if err := chromedp.FromContext(ctx).Browser.Process().Kill(); err != nil {
			t.Fatal(err)
		}
		_ = chromedp.Cancel(ctx) // waits until it is gone
	}
	return b, off, killed
}

// begun makes a tab ready.
func (b *tab) begun(ctx context.Context) *tab {
	b.t.Helper()
	b.ctx = ctx
	if err := chromedp.Do(ctx); err != nil {
		b.t.Fatal(err)
	}
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		if _, err := chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true}); err != nil {
			return err // without it, a tab that another test opens takes the focus away
		}
		_, err := chromedp.Call(ctx, cdplog.Enable, cdp.Empty{})
		return err
	}))
	b.runs(b.script)
	viewport := []chromedp.EmulateViewportOption{}
	if b.size.phone {
		viewport = append(viewport, chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	b.does(chromedp.EmulateViewport(b.size.width, b.size.height, viewport...))
	b.prefers(still)
	b.t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, wrong := range b.wrong {
			b.t.Errorf("%s's browser: %s", b.who, wrong)
		}
	})
	return b
}

// runs lets scripts run in the tab, or not.
func (b *tab) runs(script bool) {
	b.t.Helper()
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !script})
		return err
	}))
}

// heard keeps what a browser complains of.
func (b *tab) heard(event any) {
	said := ""
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		if !strings.HasPrefix(e.Request.URL, b.w.pages+"/") && !strings.HasPrefix(e.Request.URL, "data:") && !strings.HasPrefix(e.Request.URL, "blob:") {
			said = "asked elsewhere: " + e.Request.URL
		}
	case *cdplog.EventEntryAdded:
		if e.Entry.Level == cdplog.EntryLevelError && !strings.Contains(e.Entry.Text, "Failed to load resource") { // refused forms are answered with 4xx
			said = e.Entry.Text
		}
	case *runtime.EventExceptionThrown:
		said = e.ExceptionDetails.Text
		if thrown := e.ExceptionDetails.Exception; thrown != nil {
			said += " " + thrown.Description
		}
	}
	if said != "" {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.wrong = append(b.wrong, said)
	}
}

// does takes steps, or fails the test.
func (b *tab) does(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.picture("failed")
		b.t.Fatalf("%s's browser: %v\nit shows: %s", b.who, err, b.text())
	}
}

// eval is what a script finds in the page. It also works where the page itself may run none.
func eval[T any](b *tab, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	found, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s's browser: %v", b.who, err)
	}
	return found
}

// open opens a page.
func (b *tab) open(path string) *tab {
	b.t.Helper()
	b.does(chromedp.Navigate(b.w.pages + path))
	return b.ready()
}

// ready waits for the scripts that are read after the page (live.js).
func (b *tab) ready() *tab {
	b.t.Helper()
	if b.script {
		b.until(`!document.querySelector("[data-later]")`)
	}
	return b
}

// signIn signs a member in by the link of an invite.
func (b *tab) signIn(name string) *tab {
	b.t.Helper()
	b.open("/join/" + b.w.invite(name))
	return b.press("Sign in on this device")
}

// leads does what loads another page, and waits until that is there.
func (b *tab) leads(step chromedp.Action[chromedp.Void]) *tab {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if _, err := chromedp.RunResponse(ctx, step); err != nil {
		b.picture("failed")
		b.t.Fatalf("%s's browser: %v\nit shows: %s", b.who, err, b.text())
	}
	return b.ready()
}

// press presses a button that sends a form, by its words.
func (b *tab) press(words string) *tab {
	b.t.Helper()
	return b.leads(chromedp.Click(chromedp.Search(fmt.Sprintf("(//button[normalize-space()=%q])[1]", words))))
}

// follow follows a link, by its words.
func (b *tab) follow(words string) *tab {
	b.t.Helper()
	return b.leads(chromedp.Click(chromedp.Search(fmt.Sprintf("(//a[normalize-space()=%q])[1]", words))))
}

// types fills in a field, by its name.
func (b *tab) types(name, value string) *tab {
	b.t.Helper()
	at := chromedp.CSS(fmt.Sprintf("[name=%q]", name))
	eval[bool](b, fmt.Sprintf("(e => { e.value = ''; return true })(document.querySelector('[name=%q]'))", name))
	b.does(chromedp.SendKeys(at, value))
	return b
}

// picks ticks a box or chooses one of several, by the field's name and the value.
func (b *tab) picks(name, value string) *tab {
	b.t.Helper()
	if eval[string](b, fmt.Sprintf("document.querySelector('[name=%q]').localName", name)) == "select" {
		eval[bool](b, fmt.Sprintf("(e => { e.value = %s; e.dispatchEvent(new Event('change', {bubbles: true})); return e.value === %[1]s })(document.querySelector('[name=%[2]q]'))", quoted(value), name))
		return b
	}
	b.does(chromedp.Click(chromedp.CSS(fmt.Sprintf("[name=%q][value=%q]", name, value))))
	return b
}

// text is what the page says, as it is seen.
func (b *tab) text() string {
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	text, _ := chromedp.Run(ctx, chromedp.Evaluate[string]("document.body ? document.body.innerText : ''"))
	return strings.Join(strings.Fields(text), " ")
}

// waits waits until the page says so.
func (b *tab) waits(words string) *tab {
	b.t.Helper()
	b.until(fmt.Sprintf("document.body.innerText.replace(/\\s+/g, ' ').includes(%s)", quoted(words)))
	return b
}

// until waits until an expression is true in the page.
func (b *tab) until(expression string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	for {
		found, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression))
		if err == nil && found {
			return
		}
		if ctx.Err() != nil {
			b.picture("failed")
			b.t.Fatalf("%s's browser waited for %s in vain (%v); it shows: %s", b.who, expression, err, b.text())
		}
		_ = chromedp.Do(ctx, chromedp.Sleep(50*time.Millisecond))
	}
}

// says fails the test when the page does not say each of these.
func (b *tab) says(words ...string) *tab {
	b.t.Helper()
	for _, word := range words {
		if !strings.Contains(b.text(), word) {
			b.t.Errorf("%s does not see %q in: %s", b.who, word, b.text())
		}
	}
	return b
}

// offline takes the signal away, or gives it back: nobody reaches the pages, neither this tab nor what works for it in the
// background, and the browser knows.
func (b *tab) offline(cut bool) *tab {
	b.t.Helper()
	b.w.signal.cut(cut)
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: cut, DownloadThroughput: -1, UploadThroughput: -1})
		return err
	}))
	return b
}

// slowLatency is the time to the first byte over a slow third-generation network, slowBytes how many bytes come in a second.
const (
	slowLatency = 400 * time.Millisecond
	slowBytes   = 50_000
)

// slow3G has the tab load as over a slow third-generation network: 400 kbit/s, and 400 ms until the first byte (the values of
// "3G Slow" that web performance tests commonly use; common practice, no source).
func (b *tab) slow3G() *tab {
	b.t.Helper()
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
			MatchedNetworkConditions: []*network.Conditions{{Latency: float64(slowLatency.Milliseconds()), DownloadThroughput: slowBytes, UploadThroughput: slowBytes}}})
		return err
	}))
	return b
}

func quoted(text string) string {
	made, _ := json.Marshal(text) // never an error for a string
	return string(made)
}

// checked holds the page, as it is now, against axe-core (WCAG 2.2 A and AA, and best practice), and against what a phone
// needs: nothing to scroll sideways, and targets that a thumb finds. It takes a picture when GRITWARD_PICTURES names a folder.
func (b *tab) checked(state string) *tab {
	b.t.Helper()
	b.picture(state)
	if !b.script {
		b.runs(true) // for what looks at the page, which has been made without
		defer b.runs(false)
	}
	if wide := eval[int](b, "document.documentElement.scrollWidth - document.documentElement.clientWidth"); wide > 0 {
		b.t.Errorf("%s, %s, %s: %d px have to be scrolled sideways; the widest: %s", b.who, state, b.size.name, wide, eval[string](b, widest))
	}
	if b.size.phone {
		if low := eval[string](b, lowTargets); low != "" {
			b.t.Errorf("%s, %s, %s: too low for a thumb (44 px): %s", b.who, state, b.size.name, low)
		}
	}
	axe := axeSource(b.t)
	eval[bool](b, axe+"; true")
	found := eval[string](b, `axe.run(document, {runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}, resultTypes: ["violations"]})
		.then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.html.slice(0, 200) + " | " + n.failureSummary.replace(/\s+/g, " "))).join("\n"))`)
	if found != "" {
		b.t.Errorf("%s, %s, %s: axe-core finds\n%s", b.who, state, b.size.name, found)
	}
	return b
}

const (
	// widest names elements that reach beyond the page.
	widest = `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest(".wide, svg"))
		.slice(0, 3).map(e => e.outerHTML.slice(0, 120)).join(" … ")`
	// lowTargets names buttons, fields and links of menus under 44 px; links within sentences are as high as these
	// (WCAG 2.2, success criterion 2.5.8, exception "inline").
	lowTargets = `[...document.querySelectorAll("button, select, summary, input:not([type=hidden]), nav a, a.button")].filter(e => {
		const r = (e.closest("label") || (e.id && ["checkbox", "radio"].includes(e.type) && document.querySelector("label[for='" + e.id + "']")) || e).getBoundingClientRect();
		return r.height > 0 && r.height < 43.5 && !e.classList.contains("unseen"); }).slice(0, 5).map(e => e.outerHTML.slice(0, 120)).join(" … ")`
)

var notInNames = regexp.MustCompile(`[^a-z0-9]+`)

// picture keeps a picture of the whole page, for a person to look at.
func (b *tab) picture(state string) {
	folder := os.Getenv("GRITWARD_PICTURES")
	if folder == "" {
		return
	}
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err == nil {
		name := notInNames.ReplaceAllString(strings.ToLower(strings.Join([]string{b.t.Name(), b.who, state, b.size.name}, " ")), "-") + ".png"
		err = os.WriteFile(filepath.Join(folder, name), shot, 0o644)
	}
	if err != nil {
		b.t.Logf("no picture: %v", err)
	}
}

// dark has the tab prefer dark pages.
func (b *tab) dark() *tab {
	b.t.Helper()
	b.prefers(still, mediaOf("prefers-color-scheme", "dark"))
	return b
}

// still has pages not move, so that what is pressed far down a long page stands where it was found. Every tab prefers that.
var still = mediaOf("prefers-reduced-motion", "reduce")

func mediaOf(name, value string) *emulation.MediaFeature {
	return &emulation.MediaFeature{Name: name, Value: value}
}

// prefers says how somebody likes pages, and takes back what was said before.
func (b *tab) prefers(features ...*emulation.MediaFeature) {
	b.t.Helper()
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features})
		return err
	}))
}
