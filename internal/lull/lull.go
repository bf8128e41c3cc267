// Package lull does in the pauses between calls what somebody would wait for otherwise: it collects garbage, and what else it is handed.
// A page that the collector of memory meets takes twice its time; a club's server has long pauses, and nobody waits in them.
package lull

import (
	"context"
	"runtime"
	"runtime/metrics"
	"sync"
	"sync/atomic"
	"time"
)

const (
	// CollectAt is how much garbage may pile up before it is collected in the midst of calls, in percent of what is in use. A server
	// has little in use, and at Go's own 100 the collector meets one page in fifteen.
	CollectAt = 800
	// After is how long no call has begun when a pause is taken for one. It is longer than nearly all calls take, and shorter than
	// it takes somebody to press the next button.
	After = 25 * time.Millisecond
	// dueAt is how much of the garbage that may pile up is there when a collection in a pause is worth its work, at most dueBytes: a page
	// is made sooner in memory that was used before than in more of it, each 4 KiB of which the system has to find first.
	dueAt    = 0.5
	dueBytes = 16 << 20
)

// Pauses finds the pauses, and has done in them what is due. Its zero value counts calls alone; New makes one that does more.
type Pauses struct {
	// Calls counts the calls that have begun.
	Calls atomic.Int64
	// watching is set from the first call after a pause until the next pause.
	watching atomic.Bool
	timer    *time.Timer
	due      []func(context.Context)
	// end ends the context of what is done in a pause, while something is.
	end     atomic.Pointer[context.CancelFunc]
	stopped atomic.Bool
	// mu is held by who looks, so that Stop waits.
	mu   sync.Mutex
	seen int64
}

// New has each of due done once in each pause, in this order, and then the process's garbage collected. The context that they are handed ends when
// a call begins, or Stop is called: then they are to come to an end, and what is left of them waits for the next pause.
func New(due ...func(context.Context)) *Pauses {
	return newPauses(append(due, func(context.Context) { collectDue() })...)
}

func newPauses(due ...func(context.Context)) *Pauses {
	p := &Pauses{due: due}
	p.timer = time.AfterFunc(time.Hour, p.look)
	p.timer.Stop()
	return p
}

// Called says that a call begins. It may be called by any number of goroutines, and takes next to nothing.
func (p *Pauses) Called() {
	p.Calls.Add(1)
	if end := p.end.Load(); end != nil {
		(*end)()
	}
	if p.timer != nil && !p.watching.Load() && p.watching.CompareAndSwap(false, true) {
		p.timer.Reset(After)
	}
}

// Stop ends what is under way, and waits for it. Nothing is done after it.
func (p *Pauses) Stop() {
	p.stopped.Store(true)
	if end := p.end.Load(); end != nil {
		(*end)()
	}
	p.mu.Lock()
	defer p.mu.Unlock()
}

// look has done what is due when no call has begun since it last looked, and else looks again later. Only one look is ever under way: the next is set
// off by this one, or by a call after it has let go.
func (p *Pauses) look() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stopped.Load() {
		return
	}
	now := p.Calls.Load()
	if now != p.seen {
		p.seen = now
		p.timer.Reset(After)
		return
	}
	p.pause(now)
	p.watching.Store(false)
	if p.Calls.Load() != now && p.watching.CompareAndSwap(false, true) { // one came meanwhile
		p.timer.Reset(After)
	}
}

// pause does what is due, for as long as there are no more calls than that.
func (p *Pauses) pause(calls int64) {
	ctx, end := context.WithCancel(context.Background())
	defer end()
	p.end.Store(&end)
	defer p.end.Store(nil)
	for _, do := range p.due {
		if ctx.Err() != nil || p.stopped.Load() || p.Calls.Load() != calls {
			return
		}
		do(ctx)
	}
}

// collectDue collects garbage when enough of it is there. What is in use, what is there in all and at which size the collector
// would run by itself are told by the runtime (package runtime/metrics).
func collectDue() {
	told := []metrics.Sample{{Name: "/gc/heap/live:bytes"}, {Name: "/memory/classes/heap/objects:bytes"}, {Name: "/gc/heap/goal:bytes"}}
	metrics.Read(told)
	if due(told[0].Value.Uint64(), told[1].Value.Uint64(), told[2].Value.Uint64()) {
		runtime.GC()
	}
}

// due tells whether a collection is worth its work, from bytes in use after the last one, bytes now, and bytes at which the
// next would begin.
func due(live, now, goal uint64) bool {
	return goal > live && now > live && float64(now-live) >= min(dueAt*float64(goal-live), dueBytes)
}
