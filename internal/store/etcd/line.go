package etcd

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"

	"gritward/internal/store"
)

// line is those who want to write to one club. One goroutine, serve, gives each in turn the word.
type line struct {
	mu      sync.Mutex
	waiting []*request
	running bool
	// came holds a wake-up for serve, that somebody came.
	came chan struct{}
	// behind is the newest revision that was heard of.
	behind atomic.Int64
}

// request is one caller in the line.
type request struct {
	// duty is what the caller must still be on; nil: on none.
	duty *duty
	// taken is set by who comes first: serve, which then gives it the word, or the caller, who goes away.
	taken atomic.Bool
	turn  chan *turn
}

// turn is one run of a request. Until it has run, keys are its own to write to.
type turn struct {
	keys *keys
	ran  chan ran
	// verdict says what came of it.
	verdict chan verdict
	// refused: there was no state to run on, for this reason.
	refused error
}

// ran is how a run ended: what it wrote to, and gone when nobody waits for what becomes of it.
type ran struct {
	wrote written
	gone  bool
}

// verdict is what came of a run: it counts, or has to be run again, or failed.
type verdict struct {
	again  bool
	failed error
}

// Update implements store.Store.
func (s *Store) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	if s.ReadOnly {
		return store.ErrReadOnly
	}
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	m, err := s.use(club)
	if err != nil {
		return err
	}
	defer s.leave(m, false)
	defer s.waiting.Add(-1)
	if s.waiting.Add(1) > int64(s.WaitingLimit) {
		if s.Observer.Busy != nil {
			s.Observer.Busy()
		}
		return store.ErrBusy
	}
	r := &request{duty: dutyOf(ctx), turn: make(chan *turn, 1)}
	m.enter(r)
	for {
		t, err := r.await(ctx)
		if err != nil {
			return err
		}
		err, final := t.run(ctx, use)
		if final {
			return err
		}
		switch v := <-t.verdict; {
		case v.again:
		case v.failed != nil:
			return v.failed
		default:
			return err
		}
	}
}

// enter puts a caller in the line.
func (m *mirror) enter(r *request) {
	m.line.mu.Lock()
	defer m.line.mu.Unlock()
	m.line.waiting = append(m.line.waiting, r)
	select {
	case m.line.came <- struct{}{}:
	default:
	}
	if !m.line.running {
		m.line.running = true
		go m.serve()
	}
}

// heard tells the line of a revision.
func (l *line) heard(revision int64) {
	for was := l.behind.Load(); was < revision && !l.behind.CompareAndSwap(was, revision); was = l.behind.Load() {
	}
}

// next takes the first of the line; nil when nobody waits.
func (l *line) next() *request {
	l.mu.Lock()
	defer l.mu.Unlock()
	for len(l.waiting) > 0 {
		r := l.waiting[0]
		l.waiting[0], l.waiting = nil, l.waiting[1:]
		if r.taken.CompareAndSwap(false, true) {
			return r
		}
	}
	l.waiting = nil
	return nil
}

// back puts callers at the head of the line, to be run again.
func (l *line) back(those []*request) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.waiting = append(those, l.waiting...)
}

// ends tells whether nobody waits; serve is to end then.
func (l *line) ends() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.running = len(l.waiting) > 0
	return !l.running
}

// await waits for the caller's turn.
func (r *request) await(ctx context.Context) (t *turn, err error) {
	select {
	case t = <-r.turn:
	case <-ctx.Done():
		if r.taken.CompareAndSwap(false, true) {
			return nil, ctx.Err()
		}
		t = <-r.turn
	}
	return t, t.refused
}

// run runs use, of the goroutine that waits for it. It is final when nothing of it is to stay, whatever others do.
func (t *turn) run(ctx context.Context, use func(store.Tx) error) (err error, final bool) {
	under := &tx{ctx: ctx, keys: t.keys, wrote: written{}}
	told, stays := ran{gone: true}, false
	defer func() { // also at a panic, and at the end of the goroutine
		under.end()
		if stays {
			told.wrote = under.wrote
		} else {
			under.wrote.takeBack(t.keys)
		}
		t.ran <- told
	}()
	if ctx.Err() != nil {
		return ctx.Err(), true
	}
	err = use(under)
	if ctx.Err() != nil {
		if err == nil {
			err = ctx.Err()
		}
		return err, true
	}
	told.gone, stays = false, err == nil
	return err, false
}

// serve gives the word to those who wait, one after another, and commits together what they wrote. While a batch is on its way to etcd
// the next one runs on what that will have made, and is sent when that is done. Where it came to nothing both are run again.
func (m *mirror) serve() {
	var under *batch
	for under != nil || !m.line.ends() {
		b, err := m.begin(under)
		if err != nil {
			m.refuse(err)
			continue
		}
		b.fill(under)
		if under != nil && !under.landed(b.turns) {
			under = nil
			continue
		}
		if under = nil; len(b.turns) == 0 {
			continue
		}
		b.close()
		go b.settle()
		if b.alone() {
			b.landed(nil)
		} else {
			under = b
		}
	}
}

// refuse refuses all who wait now.
func (m *mirror) refuse(err error) {
	for r := m.line.next(); r != nil; r = m.line.next() {
		r.turn <- &turn{refused: err}
	}
}
