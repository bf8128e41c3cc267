package bolt

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"gritward/internal/store"
)

// Store implements store.Store.
type Store struct {
	// swap guards db, which Scrub puts another file in the place of. A transaction takes it only to begin.
	swap sync.RWMutex
	db   *bbolt.DB
	path string
	now  func() time.Time
	// readOnly is for a file that nothing is written to.
	readOnly bool
	queue    queue
	// watchers wait for changes.
	watchers watchers
	// rename is os.Rename, but for tests.
	rename func(from, to string) error
}

var _ store.Store = (*Store)(nil)

// View implements store.Store.
func (s *Store) View(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	return s.view(func(under *bbolt.Tx) error {
		t := &tx{ctx: ctx, keys: &pending{club: club, file: under.Bucket(clubsBucket()).Bucket([]byte(club))}, readOnly: true}
		defer t.end()
		return use(t)
	})
}

// Clubs implements store.Store.
func (s *Store) Clubs(ctx context.Context) (clubs []string, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	err = s.view(func(under *bbolt.Tx) error {
		all := under.Bucket(clubsBucket())
		return all.ForEachBucket(func(club []byte) error {
			if key, _ := all.Bucket(club).Cursor().First(); key != nil {
				clubs = append(clubs, string(club))
			}
			return nil
		})
	})
	return clubs, err
}

func (s *Store) view(use func(*bbolt.Tx) error) error {
	if s.readOnly { // somebody looks at what may be damaged: bbolt would end the program
		return guarded(Options{Path: s.path, ReadOnly: true}, func() error { return s.read(use) })
	}
	return s.read(use)
}

// read runs use in a transaction of bbolt's that only reads.
func (s *Store) read(use func(*bbolt.Tx) error) error {
	s.swap.RLock()
	under, err := s.db.Begin(false)
	s.swap.RUnlock()
	if err != nil {
		return s.explain(err)
	}
	defer func() { _ = under.Rollback() }()
	return use(under)
}

// explain says what an error at the beginning of a transaction means.
func (s *Store) explain(err error) error {
	if errors.Is(err, berrors.ErrDatabaseNotOpen) {
		return store.ErrClosed
	}
	return err
}

// Close implements store.Store.
func (s *Store) Close() error {
	s.queue.close()
	s.watchers.close()
	s.swap.RLock()
	defer s.swap.RUnlock()
	if err := s.db.Close(); err != nil {
		return fmt.Errorf("store: closing %s failed: %w", s.path, err)
	}
	return nil
}
