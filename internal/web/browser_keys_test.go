//go:build browser

package web_test

import (
	"context"
	"fmt"
	"strings"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// keyHelp is what tests ask a page about the focus. It moves nothing: that is done by keys alone.
const keyHelp = `(() => {
	const tidy = t => (t || "").replace(/\s+/g, " ").trim();
	const inside = () => document.querySelector("dialog[open]") || document;
	const stops = () => [...inside().querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")].filter(e =>
		e.tabIndex >= 0 && !e.disabled && e.type !== "hidden" && e.checkVisibility({visibilityProperty: true}) && !(e.localName === "summary" && e.parentElement.querySelector("summary") !== e));
	const says = (e, fits) => [e.innerText, e.name, e.getAttribute("aria-label"), e.labels && e.labels[0] && e.labels[0].innerText].some(t => fits(tidy(t)));
	// wanted are those that say just that, or else those that say it among other things.
	const wanted = words => [t => t === words, t => t.includes(words)].map(fits => stops().filter(e => says(e, fits))).find(all => all.length) || [];
	const focus = () => document.activeElement;
	const shows = () => { const e = focus(), s = getComputedStyle(e); return e.matches(":focus-visible") && s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2; };
	return {
		// way: 1 where what has these words comes after the focus, -1 before it, 0 nowhere.
		way: words => { const all = wanted(words); return !all.length ? 0 : all.some(e => focus() === document.body || focus().compareDocumentPosition(e) & 4) ? 1 : -1; },
		there: words => wanted(words).includes(focus()),
		seen: () => shows(),
		most: () => stops().length + 5 * document.querySelectorAll("input[type=date], input[type=time], input[type=datetime-local]").length + document.querySelectorAll(".wide").length + 10,
		// follow notes where the focus comes; missed are those of the places to stop at where it did not, unseen those where nothing ever
		// showed it: past the last of them the focus goes through the browser's own window, and comes back before it is drawn.
		follow: () => { window.been = []; document.addEventListener("focusin", () => been.push([focus(), shows()])); return true; },
		missed: () => stops().filter(e => !been.some(([x]) => x === e || e.type === "radio" && x.name === e.name)).map(e => e.outerHTML.slice(0, 120)).join(" | "),
		unseen: () => been.filter(([e]) => !been.some(([x, seen]) => x === e && seen)).map(([e]) => e.outerHTML.slice(0, 120)).join(" | "),
		stops: () => stops().map(e => tidy(e.innerText) || e.name || e.getAttribute("aria-label")).join(" | "),
	};
})()`

// stroke presses keys, one after another, wherever the focus is, as the browser has it from a keyboard: what a key does when it goes
// down, and the character that it types, come as one. (chromedp.KeyEvent sends them as two, and the second of them reaches what
// the first has opened.)
func stroke(keys string, with ...chromedp.Modifier) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		for _, r := range keys {
			encoded := kb.Encode(r)
			down, up := *encoded[0], *encoded[len(encoded)-1]
			for _, modifier := range with {
				down.Modifiers |= int64(modifier)
				up.Modifiers |= int64(modifier)
			}
			if down.Type = input.DispatchKeyEventTypeRawKeyDown; len(encoded) == 3 && down.Modifiers&^int64(chromedp.ModifierShift) == 0 {
				down.Type, down.Text, down.UnmodifiedText = input.DispatchKeyEventTypeKeyDown, encoded[1].Text, encoded[1].UnmodifiedText
			}
			for _, one := range []input.DispatchKeyEventParams{down, up} {
				if _, err := chromedp.Call(ctx, input.DispatchKeyEvent, one); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// key presses keys, one after another.
func (b *tab) key(keys string, with ...chromedp.Modifier) *tab {
	b.t.Helper()
	b.does(stroke(keys, with...))
	return b
}

// reach moves by the tabulator, forwards or back, to what has these words on it, is labelled so, or is the field of that name; and
// sees where the focus is. Who does not come there within as many presses as there are places to stop at is trapped.
func (b *tab) reach(words string) *tab {
	b.t.Helper()
	w := quoted(words)
	way := eval[int](b, keyHelp+".way("+w+")")
	if way == 0 {
		b.picture("not there")
		b.t.Fatalf("%s: the keyboard leads to no %q at %s, but to: %s", b.who, words, eval[string](b, "location.pathname"), eval[string](b, keyHelp+".stops()"))
	}
	var with []chromedp.Modifier
	if way < 0 {
		with = append(with, chromedp.ModifierShift)
	}
	for range eval[int](b, keyHelp+".most()") {
		b.key("\t", with...)
		if !eval[bool](b, keyHelp+".there("+w+")") {
			continue
		}
		if !eval[bool](b, keyHelp+".seen()") {
			b.picture("not seen")
			b.t.Errorf("%s: nothing shows that %q has the focus", b.who, words)
		}
		return b
	}
	b.picture("not reached")
	b.t.Fatalf("%s: the tabulator does not lead to %q at %s", b.who, words, eval[string](b, "location.pathname"))
	return b
}

// enter presses the enter key on what was reached, which loads another page.
func (b *tab) enter(words string) *tab {
	b.t.Helper()
	b.reach(words)
	return b.leads(stroke(kb.Enter))
}

// keys types into the field that is reached, over what stands there.
func (b *tab) keys(name, text string) *tab {
	b.t.Helper()
	b.reach(name)
	if kind := eval[string](b, "document.activeElement.type"); kind == "text" || kind == "number" || kind == "email" {
		b.key("a", chromedp.ModifierCtrl)
	}
	return b.key(text)
}

// arrows goes with the arrow keys to one of several, a radio button or a line pulled down, by the field's name and the value.
func (b *tab) arrows(name, value string) *tab {
	b.t.Helper()
	b.reach(name)
	at := fmt.Sprintf("(e => e.value === %s && (e.localName === 'select' || e.checked))(document.activeElement)", quoted(value))
	if eval[bool](b, "document.activeElement.type === 'radio' && !document.activeElement.checked") {
		b.key(" ")
	}
	for range 40 {
		if eval[bool](b, at) {
			return b
		}
		b.key(kb.ArrowDown)
	}
	b.t.Fatalf("%s: the arrows do not lead to %s of %s", b.who, value, name)
	return b
}

// ticks presses the space bar on a box, or on what opens.
func (b *tab) ticks(words string) *tab {
	b.t.Helper()
	return b.reach(words).key(" ")
}

// chooses opens the browser's window for choosing a file by the keyboard, and has it answer with a file, as only a test can.
func (b *tab) chooses(words, file string) *tab {
	b.t.Helper()
	opened := make(chan *page.EventFileChooserOpened, 1)
	ctx, cancel := context.WithCancel(b.ctx)
	defer cancel()
	if err := chromedp.Listen(ctx, func(event any) {
		if e, ok := event.(*page.EventFileChooserOpened); ok {
			opened <- e
		}
	}); err != nil {
		b.t.Fatal(err)
	}
	catch := func(on bool) {
		b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, page.SetInterceptFileChooserDialog, page.SetInterceptFileChooserDialogParams{Enabled: on})
			return err
		}))
	}
	catch(true)
	b.reach(words).key(kb.Enter)
	waiting, stop := context.WithTimeout(b.ctx, patience)
	defer stop()
	select {
	case e := <-opened:
		b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: []string{file}, BackendNodeID: e.BackendNodeID})
			return err
		}))
	case <-waiting.Done():
		b.t.Fatalf("%s: the enter key opens no window to choose a file", b.who)
	}
	catch(false)
	return b
}

// round goes through the whole page with the tabulator: it comes to everything that can be pressed or filled in, is never trapped, and
// it is seen where it is.
func (b *tab) round(state string) {
	b.t.Helper()
	eval[bool](b, keyHelp+".follow()")
	b.key(strings.Repeat("\t", eval[int](b, keyHelp+".most()")))
	if missed := eval[string](b, keyHelp+".missed()"); missed != "" {
		b.t.Errorf("%s, %s: the tabulator does not come to %s", b.who, state, missed)
	}
	if unseen := eval[string](b, keyHelp+".unseen()"); unseen != "" {
		b.t.Errorf("%s, %s: nothing shows the focus on %s", b.who, state, unseen)
	}
}
