package bolt

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"gritward/internal/store"
)

// DefaultWaitingLimit is how many transactions may wait to write. Each is a caller with its request in memory. A machine of
// two cores serves some thousand sign-ups a second, so the last of them waits for about a second.
const DefaultWaitingLimit = 4096

// queue is the line of those who want to write. One goroutine, run, gives each in turn the word; it is the only one that has
// a transaction of bbolt's that writes.
type queue struct {
	mu      sync.Mutex
	waiting []*request
	limit   int
	closed  bool
	// ready holds a wake-up for run when there is something to look at.
	ready chan struct{}
	// ended is closed when run has ended.
	ended chan struct{}
}

// request is one caller in the line.
type request struct {
	// alone: it needs no transaction, but that nobody else writes.
	alone bool
	// taken is set by who comes first: run, which then gives it the word, or the caller, who goes away.
	taken atomic.Bool
	// turn hands over the batch to run in; nil to one that is alone, and when it could not be begun: err says why.
	turn chan *batch
	err  error
	// over is closed when the caller has done what it wanted to do.
	over chan struct{}
}

// enter puts a caller in the line and waits for its turn. Afterwards over must be closed, unless there is an error.
func (q *queue) enter(ctx context.Context, alone bool) (*request, *batch, error) {
	r := &request{alone: alone, turn: make(chan *batch, 1), over: make(chan struct{})}
	if err := q.add(r); err != nil {
		return nil, nil, err
	}
	select {
	case b := <-r.turn:
		return r, b, r.err
	case <-ctx.Done():
	}
	if r.taken.CompareAndSwap(false, true) {
		return nil, nil, ctx.Err()
	}
	return r, <-r.turn, r.err
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
	q.wake()
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

func (q *queue) wake() {
	select {
	case q.ready <- struct{}{}:
	default:
	}
}

// next takes the first of the line; nil when nobody waits. More is false when nobody will come any more.
func (q *queue) next() (r *request, more bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for len(q.waiting) > 0 {
		r, q.waiting[0], q.waiting = q.waiting[0], nil, q.waiting[1:]
		if r.taken.CompareAndSwap(false, true) {
			return r, true
		}
	}
	q.waiting = nil
	return nil, !q.closed
}

// close lets nobody in any more, and waits until all who were in the line have been served.
func (q *queue) close() {
	q.mu.Lock()
	q.closed = true
	q.wake()
	q.mu.Unlock()
	<-q.ended
}

// run gives the word to those who wait, one after another, and commits together what they wrote: as soon as nobody waits
// any more, so that one who is alone does not wait for others, and what comes during a commit shares the next one.
func (s *Store) run() {
	defer close(s.queue.ended)
	var b *batch
	settle := func() {
		if b != nil {
			b.settle()
			b = nil
		}
	}
	for {
		r, more := s.queue.next()
		switch {
		case r == nil && b != nil:
			settle()
			continue
		case r == nil && !more:
			return
		case r == nil:
			<-s.queue.ready
			continue
		case r.alone:
			settle()
		case b == nil:
			b, r.err = s.begin()
		}
		r.turn <- b
		if r.err != nil {
			continue
		}
		if <-r.over; b != nil && b.full() {
			settle()
		}
	}
}

func (s *Store) begin() (*batch, error) {
	under, err := s.beginUnder(true)
	if err != nil {
		return nil, err
	}
	return &batch{store: s, under: under, began: time.Now(), clubs: map[string]*pending{}, committed: make(chan struct{})}, nil
}

// Update implements store.Store.
func (s *Store) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	if s.readOnly {
		return store.ErrReadOnly
	}
	r, b, err := s.queue.enter(ctx, false)
	if err != nil {
		if heard := s.observer.Busy; heard != nil && errors.Is(err, store.ErrBusy) {
			heard()
		}
		return err
	}
	wait, err := func() (bool, error) {
		defer close(r.over)
		if err := ctx.Err(); err != nil {
			return false, err
		}
		return b.run(ctx, club, use)
	}()
	if !wait {
		return err
	}
	if <-b.committed; b.failed != nil {
		return b.failed
	}
	return err
}

// alone runs do while nobody writes.
func (s *Store) alone(ctx context.Context, do func() error) error {
	r, _, err := s.queue.enter(ctx, true)
	if err != nil {
		return err
	}
	defer close(r.over)
	return do()
}
