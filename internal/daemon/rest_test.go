package daemon

import (
	"context"
	"runtime/debug"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// TestResting counts how often memory is given back: once when the start is over, then only after calls came and ended.
func TestResting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, end := context.WithCancel(t.Context())
		var calls, given, released atomic.Int64
		go resting(ctx, &calls, func() { released.Add(1) }, func() { given.Add(1) })
		after := func(wait time.Duration, want int64, what string) {
			t.Helper()
			time.Sleep(wait) // of the bubble's own clock
			synctest.Wait()
			if given.Load() != want {
				t.Errorf("%s: given back %d times, want %d", what, given.Load(), want)
			}
		}
		after(startOver/2, 0, "while it starts")
		calls.Add(3)
		after(startOver, 1, "when the start is over")
		after(10*restAfter, 1, "nobody calls")
		calls.Add(1)
		after(restAfter, 1, "a call in the last minute")
		calls.Add(1)
		after(restAfter, 1, "another")
		after(restAfter, 2, "a minute without a call")
		after(10*restAfter, 2, "nobody calls again")
		if released.Load() != 1 {
			t.Errorf("the collector was let go %d times", released.Load())
		}
		end()
	})
}

// TestHoldCollector holds the collector in the first server of a process alone, and leaves its settings as they were.
func TestHoldCollector(t *testing.T) {
	was := debug.SetGCPercent(100)
	defer debug.SetGCPercent(was)
	first, second := holdCollector(), holdCollector()
	second()
	first()
	first()
	if now := debug.SetGCPercent(100); now != 100 {
		t.Errorf("the collector runs at %d %% afterwards, want 100", now)
	}
}
