package daemon

import (
	"context"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"gritward/internal/post"
	"gritward/internal/server"
	"gritward/internal/store"
)

const (
	// overdueEvery is how often the server looks for riders who are overdue.
	overdueEvery = time.Minute
	// keptEvery is how often it looks whether the day has passed after which it removes what is kept no longer.
	keptEvery = time.Hour
	// lettersEvery is how often it looks what letters are due.
	lettersEvery = 2 * time.Second
)

// duties are what one server alone does of all that share a store: it looks for who is overdue and for what is kept no longer, and
// sends letters.
type duties struct {
	watch   *server.RollWatch
	kept    *server.Retention
	letters *server.Post
	mailer  *post.SMTP
	log     *slog.Logger
	// on tells whether this server is the one; since when, in seconds of Unix.
	on    atomic.Bool
	since atomic.Int64
}

// begin does them whenever this server is on duty, until the func returned is called.
func (d *duties) begin(ctx context.Context, s store.Store) (end func()) {
	within, stop := context.WithCancel(ctx)
	var ended sync.WaitGroup
	ended.Go(func() {
		if err := s.OnDuty(within, d.do); err != nil && within.Err() == nil {
			d.log.Error("nobody looks for who is overdue any more; start the server again", "error", err)
		}
	})
	return func() { stop(); ended.Wait() }
}

// do does them until the context ends.
func (d *duties) do(ctx context.Context) error {
	d.since.Store(time.Now().Unix())
	d.on.Store(true)
	defer d.on.Store(false)
	d.log.Debug("this server is on duty: it looks for who is overdue and for what is kept no longer, and sends letters")
	var looked sync.WaitGroup
	looked.Go(func() { d.watch.Run(ctx, overdueEvery) })
	looked.Go(func() { d.kept.Run(ctx, keptEvery) })
	if d.mailer != nil {
		d.letters.Mailer = d.mailer
		looked.Go(func() { d.letters.Run(ctx, lettersEvery) })
	}
	looked.Wait()
	return nil
}
