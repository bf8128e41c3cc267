// Package lull collects garbage in the pauses between calls. A page that the collector of memory meets takes twice its time;
// a club's server has long pauses, and nobody waits in them.
package lull

import (
	"runtime"
	"runtime/metrics"
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

// Collector collects in pauses. Its zero value does not; New makes one that does.
type Collector struct {
	// Calls counts the calls that have begun.
	Calls atomic.Int64
	// watching is set from the first call after a pause until the next pause.
	watching atomic.Bool
	timer    *time.Timer
	seen     int64
	collect  func()
}

// New is a collector that collects the process's garbage in pauses.
func New() *Collector { return newCollector(collectDue) }

func newCollector(collect func()) *Collector {
	c := &Collector{collect: collect}
	c.timer = time.AfterFunc(time.Hour, c.look)
	c.timer.Stop()
	return c
}

// Called says that a call begins. It may be called by any number of goroutines, and takes next to nothing.
func (c *Collector) Called() {
	c.Calls.Add(1)
	if c.timer != nil && !c.watching.Load() && c.watching.CompareAndSwap(false, true) {
		c.timer.Reset(After)
	}
}

// look collects when no call has begun since it last looked, and else looks again later. Only one look is ever under way: the next is set off by
// this one, or by a call after it has let go.
func (c *Collector) look() {
	now := c.Calls.Load()
	if now != c.seen {
		c.seen = now
		c.timer.Reset(After)
		return
	}
	c.collect()
	c.watching.Store(false)
	if c.Calls.Load() != now && c.watching.CompareAndSwap(false, true) { // one came meanwhile
		c.timer.Reset(After)
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
