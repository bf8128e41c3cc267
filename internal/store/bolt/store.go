package bolt

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
)

// Store implements store.Store.
type Store struct {
	// swap guards db, which Scrub puts another file in the place of. A transaction takes it only to begin.
	swap sync.RWMutex
	db   *bbolt.DB
	// scrubs is how many times it did.
	scrubs uint64
	path   string
	now    func() time.Time
	// readOnly is for a file that nothing is written to.
	readOnly bool
	queue    *queue
	observer store.Observer
	health   health
	// watchers wait for changes.
	watchers watchers
	agenda   agenda
	// rename is os.Rename, but for tests.
	rename func(from, to string) error
}

var _ store.Store = (*Store)(nil)

// View implements store.Store.
func (s *Store) View(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	return s.read(func(under *bbolt.Tx, version uint64) error {
		t := &tx{ctx: ctx, version: version, keys: &pending{}, readOnly: true, store: s}
		defer t.end()
		t.opens = func() { t.keys.file = keysOf(under, club) }
		err := use(t)
		if t.failed != nil {
			return t.failed // also where use thinks nothing of it
		}
		return err
	})
}

// Clubs implements store.Store.
func (s *Store) Clubs(ctx context.Context) (clubs []string, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	err = s.read(func(under *bbolt.Tx, _ uint64) error {
		return s.safely(func() { clubs = clubList(under) })
	})
	return clubs, err
}

// read runs use in a transaction of bbolt's that only reads. It is told the number of the state that is read: that of bbolt's
// transaction that wrote it, counted in each file, together with how many files there were.
func (s *Store) read(use func(under *bbolt.Tx, version uint64) error) error {
	s.swap.RLock()
	under, err := s.beginUnder(false)
	files := s.scrubs + 1
	s.swap.RUnlock()
	if err != nil {
		return err
	}
	defer func() {
		if !s.health.stuck.Load() {
			_ = under.Rollback()
		}
	}()
	return use(under, files<<48|uint64(under.ID()))
}

// Waiting is how many transactions wait to write.
func (s *Store) Waiting() int {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return len(s.queue.waiting)
}

// Close implements store.Store.
func (s *Store) Close() error {
	s.queue.close()
	s.watchers.close()
	if s.health.stuck.Load() {
		return nil // the file is let go with the process
	}
	s.swap.RLock()
	defer s.swap.RUnlock()
	if err := s.db.Close(); err != nil {
		return fmt.Errorf("store: closing %s failed: %w", s.path, err)
	}
	return nil
}

// OnDuty implements store.Store: nobody else has the store open.
func (s *Store) OnDuty(ctx context.Context, do func(context.Context) error) error { return do(ctx) }
