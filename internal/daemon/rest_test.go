package daemon

import (
	"context"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"gritward/internal/lull"
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

// TestHoldCollector holds the collector in the first server of a process alone, and then lets it run as the environment has it.
func TestHoldCollector(t *testing.T) {
	percent, limit := debug.SetGCPercent(100), debug.SetMemoryLimit(1<<40)
	defer func() { debug.SetGCPercent(percent); debug.SetMemoryLimit(limit) }()
	for _, one := range []struct {
		environment string
		percent     int
		limit       int64
		keeps       int64
	}{{"150", 100, 1 << 40, 1 << 30}, {"", lull.CollectAt, collectLimit, 0}, {"", lull.CollectAt, collectLimit + 2<<30, 1 << 30}} {
		t.Setenv("GOGC", one.environment)
		t.Setenv("GOMEMLIMIT", "")
		debug.SetGCPercent(100)
		debug.SetMemoryLimit(1 << 40)
		started = sync.Once{}
		first, second := holdCollector(one.keeps), holdCollector(one.keeps)
		second()
		if held := debug.SetGCPercent(-1); held != -1 {
			t.Errorf("the collector runs at %d %% while the server starts", held)
		}
		first()
		first()
		if limit := debug.SetMemoryLimit(-1); limit != one.limit {
			t.Errorf("GOGC=%q: a limit of %d afterwards, want %d", one.environment, limit, one.limit)
		}
		if now := debug.SetGCPercent(100); now != one.percent {
			t.Errorf("GOGC=%q: the collector runs at %d %% afterwards, want %d", one.environment, now, one.percent)
		}
	}
}
