package daemon

import (
	"fmt"
	"io"
	"time"
)

// progress tells on a terminal how far something is that takes longer than a second: one line, wiped by end.
type progress struct {
	out   io.Writer
	next  time.Time
	shown bool
}

func newProgress(out io.Writer) *progress {
	if !isTerminal(out) {
		out = nil
	}
	return &progress{out: out, next: time.Now().Add(time.Second)}
}

// of is what to call with how far a piece of work is.
func (p *progress) of(what string) func(done, total int64) {
	return func(done, total int64) {
		if p.out == nil || time.Now().Before(p.next) {
			return
		}
		p.next, p.shown = time.Now().Add(time.Second), true
		if total > 0 {
			fmt.Fprintf(p.out, "\r\x1b[K%s: %d %%", what, 100*done/total)
		} else {
			fmt.Fprintf(p.out, "\r\x1b[K%s: %d", what, done)
		}
	}
}

func (p *progress) end() {
	if p.shown {
		fmt.Fprint(p.out, "\r\x1b[K")
		p.shown = false
	}
}
