package bolt

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"sync/atomic"

	"gritward/internal/store"
)

// DefaultWaitingLimit is how many transactions may wait to write. Each is a caller with its request in memory. A machine of
// two cores serves some thousand sign-ups a second, so the last of them waits for about a second.
const DefaultWaitingLimit = 4096

// queue is the line of those who want to write. One at a time has the word, in its own goroutine, and writes into the open
// batch. One batch at a time is brought to the disk; those who write meanwhile share the next one. Whoever gives the word on, waits
// for that batch and finds nobody in the line does it at once, without handing over to another goroutine and back; else run does.
type queue struct {
	store   *Store
	mu      sync.Mutex
	waiting []*request
	limit   int
	closed  bool
	// busy: somebody has the word.
	busy bool
	// open is the batch that is written into; nil: none has begun.
	open *batch
	// settling is the batch on its way to the disk; nil: none.
	settling *batch
	// mine is set while who gives the word on can bring that batch to the disk.
	mine *batch
	// commits hands it over; closed when nobody will come any more.
	commits chan *batch
	ending  bool
	// ended is closed when everything is on the disk and nobody will come any more.
	ended chan struct{}
}

func newQueue(s *Store, limit int) *queue {
	return &queue{store: s, limit: limit, commits: make(chan *batch, 1), ended: make(chan struct{})}
}

// request is one caller in the line.
type request struct {
	// alone: it needs no batch, but that nobody else writes and nothing is on its way to the disk.
	alone bool
	// taken is set by who comes first: pass, which then gives it the word, or the caller, who goes away.
	taken atomic.Bool
	// turn hands over the word, with the batch to run in.
	turn chan *batch
}

// enter puts a caller in the line and waits for the word. Unless there is an error, leave must be called afterwards.
func (q *queue) enter(ctx context.Context, alone bool) (*batch, error) {
	r := requests.Get().(*request) //nolint:errcheck,forcetypeassert // of what New makes
	r.alone = alone
	if err := q.add(r); err != nil {
		return nil, err
	}
	select {
	case b := <-r.turn:
		r.giveBack()
		return b, nil
	case <-ctx.Done():
	}
	if r.taken.CompareAndSwap(false, true) {
		return nil, ctx.Err()
	}
	b := <-r.turn
	r.giveBack()
	return b, nil
}

// requests are used again by those who had the word: the line has let go of such a one.
var requests = sync.Pool{New: func() any { return &request{turn: make(chan *batch, 1)} }}

func (r *request) giveBack() {
	r.taken.Store(false)
	requests.Put(r)
}

func (q *queue) add(r *request) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	switch {
	case q.closed:
		return store.ErrClosed
	case len(q.waiting) >= q.limit && !q.sweep():
		return store.ErrBusy
	}
	q.waiting = append(q.waiting, r)
	q.pass()
	return nil
}

// sweep takes those out of the line who went away, and tells whether there is room now.
func (q *queue) sweep() bool {
	left := q.waiting[:0]
	for _, r := range q.waiting {
		if !r.taken.Load() {
			left = append(left, r)
		}
	}
	clear(q.waiting[len(left):])
	q.waiting = left
	return len(left) < q.limit
}

// linger lets those who are about to enter the line, and wait for nothing but the processor, enter before the batch goes on its way: on a
// busy machine a commit for a few takes processor time that many could share. Nobody is waited for where the processor is free.
func (q *queue) linger() {
	q.mu.Lock()
	soon := len(q.waiting) == 0 && q.settling == nil && !q.closed
	q.mu.Unlock()
	if soon {
		runtime.Gosched()
	}
}

// leave gives the word on. It tells whether the batch that the caller waits for, nil: none, is to be settled by the caller.
func (q *queue) leave(until *batch) (settle bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.busy, q.mine = false, until
	q.pass()
	settle, q.mine = q.mine != until, nil
	return settle
}

// pass does what is to be done next, with q.mu held: it gives the word to the first in the line, or hands over the open batch,
// which is committed as soon as nobody waits any more, so that one who is alone does not wait for others, or after some time.
func (q *queue) pass() {
	for !q.busy {
		first := q.first()
		switch b := q.open; {
		case b != nil && b.doomed():
			q.open = nil
			b.failed = b.after.failed
			close(b.committed)
		case b != nil && q.settling == nil && (first == nil || first.alone || b.full() || b.late()):
			q.hand(b)
		case b != nil && q.settling != nil && b.full():
			return
		case first == nil || first.alone && q.settling != nil:
			q.end()
			return
		case first.taken.CompareAndSwap(false, true):
			q.busy = true
			q.waiting[0], q.waiting = nil, q.waiting[1:]
			if !first.alone && q.open == nil {
				q.open = newBatch(q.store, q.settling)
			}
			first.turn <- q.open
		}
	}
}

// first is the first in the line who did not go away; nil when nobody waits.
func (q *queue) first() *request {
	for len(q.waiting) > 0 && q.waiting[0].taken.Load() {
		q.waiting[0], q.waiting = nil, q.waiting[1:]
	}
	if len(q.waiting) == 0 {
		q.waiting = nil
		return nil
	}
	return q.waiting[0]
}

// hand hands the open batch over to be committed; one that nothing was written in is forgotten.
func (q *queue) hand(b *batch) {
	if q.open = nil; b.wrote {
		b.after = nil // it is on the disk: nothing is on its way there
		if q.settling = b; b == q.mine {
			q.mine = nil
		} else {
			q.commits <- b
		}
	}
}

// end ends it all when nobody is there and nobody will come.
func (q *queue) end() {
	if q.closed && !q.ending && len(q.waiting) == 0 && q.settling == nil {
		q.ending = true
		close(q.commits)
	}
}

// run commits what is handed over.
func (q *queue) run() {
	defer close(q.ended)
	for b := range q.commits {
		q.settle(b)
	}
}

// settle brings a batch to the disk that was handed over.
func (q *queue) settle(b *batch) {
	err := b.settle()
	q.mu.Lock()
	q.settling, b.failed = nil, err
	q.pass()
	q.mu.Unlock()
	close(b.committed)
}

// close lets nobody in any more, and waits until all who were in the line have been served.
func (q *queue) close() {
	q.mu.Lock()
	q.closed = true
	q.pass()
	q.mu.Unlock()
	<-q.ended
}

// isIdle tells whether nobody writes, and nothing is on its way to the disk.
func (q *queue) isIdle() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return !q.busy && len(q.waiting) == 0 && q.open == nil && q.settling == nil
}

// isClosed refuses when nobody is let in any more.
func (q *queue) isClosed() error {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed {
		return store.ErrClosed
	}
	return nil
}

// Update implements store.Store.
func (s *Store) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	if s.readOnly {
		return store.ErrReadOnly
	}
	b, err := s.queue.enter(ctx, false)
	if err != nil {
		if heard := s.observer.Busy; heard != nil && errors.Is(err, store.ErrBusy) {
			heard()
		}
		return err
	}
	settle := false
	until, err := func() (until *batch, err error) {
		defer func() {
			if until == b {
				s.queue.linger()
			}
			settle = s.queue.leave(until)
		}()
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		return b.run(ctx, club, use)
	}()
	if until == nil {
		return err
	}
	if settle {
		s.queue.settle(until)
	}
	if <-until.committed; until.failed != nil {
		return until.failed
	}
	return err
}

// alone runs do while nobody writes, and all that was written is on the disk.
func (s *Store) alone(ctx context.Context, do func() error) error {
	if _, err := s.queue.enter(ctx, true); err != nil {
		return err
	}
	defer s.queue.leave(nil)
	return do()
}
