package bolt

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
)

// Store implements store.Store.
type Store struct {
	// swap guards db, which Scrub puts another file in the place of, and state. A transaction takes it only to begin.
	swap sync.RWMutex
	db   *bbolt.DB
	// state is what was acknowledged and is not in the file yet; it is never written to, but another one is put in its place.
	state   *state
	journal *journal
	// readers is how many read, of those who began since a commit last failed that is in the file all the same; before is how many of those
	// do who began by then, nil: it has been seen to. Who settles a batch has before.
	readers, before *atomic.Int64
	// scrubs is how many times it did.
	scrubs uint64
	path   string
	now    func() time.Time
	// readOnly is for a file that nothing is written to.
	readOnly bool
	// copied are kept open with a store that is a copy of them.
	copied   []*bbolt.DB
	queue    *queue
	observer store.Observer
	health   health
	// watchers wait for changes.
	watchers watchers
	agenda   agenda
	// closing is held by who closes it.
	closing sync.Mutex
	// rename is os.Rename, but for tests.
	rename func(from, to string) error
}

var _ store.Store = (*Store)(nil)

// View implements store.Store.
func (s *Store) View(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	return s.read(func(under *bbolt.Tx, seen *state, version uint64) error {
		t := &tx{ctx: ctx, version: version, keys: &pending{writes: seen.clubs[club]}, readOnly: true, store: s}
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
	err = s.read(func(under *bbolt.Tx, seen *state, _ uint64) error {
		return s.safely(func() {
			clubs = clubList(under)
			for club, writes := range seen.clubs {
				clubs = slices.DeleteFunc(clubs, func(one string) bool { return one == club })
				if p := (&pending{file: keysOf(under, club), writes: writes}); !p.isEmpty() {
					clubs = append(clubs, club)
				}
			}
			slices.Sort(clubs)
		})
	})
	return clubs, err
}

// read runs use in a transaction of bbolt's that only reads. It is told what was written and is not in the file yet, and the number of
// what both together show: that of bbolt's transaction, which counts the states of one file, and that of the state, together with
// how many files there were.
func (s *Store) read(use func(under *bbolt.Tx, seen *state, version uint64) error) error {
	s.swap.RLock()
	under, err := s.beginUnder(false)
	files, seen, readers := s.scrubs+1, s.state, s.readers
	if err == nil {
		readers.Add(1)
	}
	s.swap.RUnlock()
	if err != nil {
		return err
	}
	defer readers.Add(-1)
	defer func() {
		if !s.health.stuck.Load() {
			_ = under.Rollback()
		}
	}()
	return use(under, seen.over(under), files<<48|uint64(under.ID())+seen.number)
}

// Waiting is how many transactions wait to write.
func (s *Store) Waiting() int {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return len(s.queue.waiting)
}

// Close implements store.Store. Afterwards all is in the file, and there is no journal; but of a file that is damaged it stays.
func (s *Store) Close() error {
	s.closing.Lock()
	defer s.closing.Unlock()
	s.queue.close()
	s.watchers.close()
	var err error
	whole := s.sound() == nil
	if whole && !s.readOnly {
		err = s.file(s.seen())
	}
	if s.health.stuck.Load() {
		return nil // the file is let go with the process
	}
	s.swap.RLock()
	defer s.swap.RUnlock()
	if err == nil && whole {
		err = s.journal.end()
	}
	if err = errors.Join(err, s.db.Close(), closeAll(s.copied)); err != nil {
		return fmt.Errorf("store: closing %s failed: %w: leave %s where it is, and start again", s.path, err, s.journal.path)
	}
	return nil
}

// OnDuty implements store.Store: nobody else has the store open.
func (s *Store) OnDuty(ctx context.Context, do func(context.Context) error) error { return do(ctx) }
