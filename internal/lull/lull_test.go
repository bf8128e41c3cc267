package lull

import (
	"context"
	"runtime"
	"runtime/debug"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// TestPauses counts collections: one a pause, none while calls come, none without a call.
func TestPauses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var collected atomic.Int64
		c := newPauses(func(context.Context) { collected.Add(1) })
		after := func(wait time.Duration, want int64, what string) {
			t.Helper()
			time.Sleep(wait) // of the bubble's own clock
			synctest.Wait()
			if collected.Load() != want {
				t.Errorf("%s: collected %d times, want %d", what, collected.Load(), want)
			}
		}
		after(time.Hour, 0, "nobody has called")
		for range 20 {
			c.Called()
			after(After/2, 0, "calls come one after another")
		}
		after(2*After, 1, "a pause")
		after(time.Hour, 1, "the same pause")
		c.Called()
		c.Called()
		after(3*After, 2, "the pause after two more calls")
		if c.Calls.Load() != 22 {
			t.Errorf("%d calls are counted, want 22", c.Calls.Load())
		}
	})
}

// TestCalledMeanwhile has a call come while garbage is collected: the pause after it counts, too.
func TestCalledMeanwhile(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var collected atomic.Int64
		var c *Pauses
		c = newPauses(func(context.Context) {
			if collected.Add(1) == 1 {
				c.Called()
			}
		})
		c.Called()
		time.Sleep(time.Hour) // of the bubble's own clock
		synctest.Wait()
		if collected.Load() != 2 {
			t.Errorf("collected %d times, want 2", collected.Load())
		}
	})
}

// TestGivenUp has a call come while the first of two things is done: its context ends, and both are done in the next pause.
func TestGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var first, second atomic.Int64
		var p *Pauses
		p = newPauses(func(ctx context.Context) {
			if first.Add(1) == 1 {
				if ctx.Err() != nil {
					t.Error("it is over before a call came")
				}
				p.Called()
				<-ctx.Done()
			}
		}, func(context.Context) { second.Add(1) })
		p.Called()
		time.Sleep(time.Hour) // of the bubble's own clock
		synctest.Wait()
		if first.Load() != 2 || second.Load() != 1 {
			t.Errorf("the first was done %d times, want 2, and the second %d times, want once", first.Load(), second.Load())
		}
	})
}

// TestStop ends what is under way and waits for it; afterwards calls are counted and nothing is done.
func TestStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var begun, over, second atomic.Int64
		p := newPauses(func(ctx context.Context) {
			begun.Add(1)
			<-ctx.Done()
			for range 100 {
				runtime.Gosched()
			}
			over.Add(1)
		}, func(context.Context) { second.Add(1) })
		p.Called()
		time.Sleep(3 * After)
		synctest.Wait()
		if begun.Load() != 1 {
			t.Fatalf("begun %d times in a pause", begun.Load())
		}
		p.Stop()
		if over.Load() != 1 {
			t.Error("what was under way is not over")
		}
		p.Called()
		time.Sleep(time.Hour)
		synctest.Wait()
		if begun.Load() != 1 || second.Load() != 0 || p.Calls.Load() != 2 {
			t.Errorf("after the stop: begun %d times, the second %d times, %d calls", begun.Load(), second.Load(), p.Calls.Load())
		}
	})
}

// TestZero counts calls and nothing else.
func TestZero(t *testing.T) {
	var c Pauses
	c.Called()
	if c.Calls.Load() != 1 {
		t.Error("a call is not counted")
	}
}

func TestDue(t *testing.T) {
	for _, one := range []struct {
		live, now, goal uint64
		want            bool
	}{
		{10, 49, 90, false}, {10, 50, 90, true}, {10, 95, 90, true}, // the collector is at work, or late
		{10, 5, 90, false}, {90, 95, 90, false}, {0, 0, 0, false},
		{20 << 20, 36<<20 - 1, 200 << 20, false}, {20 << 20, 36 << 20, 200 << 20, true},
	} {
		if due(one.live, one.now, one.goal) != one.want {
			t.Errorf("due(%d, %d, %d) is not %v", one.live, one.now, one.goal, one.want)
		}
	}
}

var kept []byte

// TestCollectDue has the real collector run once when half of what may pile up is there, and not before.
func TestCollectDue(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(1000))
	kept = make([]byte, 8<<20)
	defer func() { kept = nil }()
	runtime.GC()
	cycles := func() uint32 {
		var stats runtime.MemStats
		runtime.ReadMemStats(&stats)
		return stats.NumForcedGC
	}
	before := cycles()
	collectDue()
	if cycles() != before {
		t.Error("it collects with nothing to collect")
	}
	for range 48 {
		garbage = make([]byte, 1<<20)
	}
	garbage = nil
	collectDue()
	if cycles() != before+1 {
		t.Errorf("it collected %d times with much to collect, want once", cycles()-before)
	}
}

var garbage []byte
