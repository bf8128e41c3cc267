package daemon

import (
	"context"
	"os"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"gritward/internal/headstart"
	"gritward/internal/lull"
)

const (
	// startMemory is how much memory the start may take before the collector of memory runs, bytes.
	startMemory = 64 << 20
	// collectLimit is how near the process comes, bytes, before garbage is collected more often than at lull.CollectAt, where the
	// environment names nothing else (GOGC, GOMEMLIMIT).
	collectLimit = 512 << 20
	// startOver is after how long the start is over.
	startOver = time.Second
	// restAfter is how long a server without a call is watched before it is at rest.
	restAfter = time.Minute
)

// started is done by the first server of a process.
var started sync.Once

// holdCollector keeps the collector of memory from running while a process starts to serve, where it would take time from the
// first answers and find little. When release is called it runs as the environment has it, or else by lull.CollectAt and collectLimit.
// Of a server that keeps so many bytes of clubs in memory the limit is that much higher, twice, since what is kept is never garbage:
// below it the collector would run all the time.
func holdCollector(keeps int64) (release func()) {
	release = func() {}
	started.Do(func() {
		percent, limit := debug.SetGCPercent(-1), debug.SetMemoryLimit(-1)
		debug.SetMemoryLimit(min(limit, startMemory))
		if os.Getenv("GOGC") == "" && os.Getenv("GOMEMLIMIT") == "" {
			percent, limit = lull.CollectAt, collectLimit+2*keeps
		}
		release = sync.OnceFunc(func() {
			debug.SetMemoryLimit(limit)
			debug.SetGCPercent(percent)
		})
	})
	return release
}

// resting gives memory back to the machine when the start is over, and again whenever calls came and then none for a while,
// until the context ends. A club's server is at rest for most of the week, on a machine that often does other things, too.
func resting(ctx context.Context, calls *atomic.Int64, release, giveBack func()) {
	select {
	case <-ctx.Done():
		return
	case <-time.After(startOver):
	}
	release()
	headstart.Over()
	last := calls.Load()
	giveBack()
	for given := last; ; {
		select {
		case <-ctx.Done():
			return
		case <-time.After(restAfter):
		}
		now := calls.Load()
		if now == last && now != given {
			giveBack()
			given = now
		}
		last = now
	}
}

// giveBack gives back to the machine what the server holds and does not need at rest.
func giveBack() {
	debug.FreeOSMemory()
	releaseProgram()
}
