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
	// swap guards db, which Scrub puts another file in the place of. A transaction takes it only to begin; the one that
	// writes has writing to itself, as Scrub has.
	swap sync.RWMutex
	db   *bbolt.DB
	path string
	now  func() time.Time
	// readOnly is for a file that nothing is written to.
	readOnly bool
	// writing has room for the one transaction that writes. bbolt has a lock for it too, but one that cannot be waited
	// for with a context.
	writing chan struct{}
	// watchers wait for changes.
	watchers watchers
	// rename is os.Rename, but for tests.
	rename func(from, to string) error
}

var _ store.Store = (*Store)(nil)

// errUnchanged rolls back a transaction that wrote nothing, which spares the disk two waits.
var errUnchanged = errors.New("unchanged")

// Update implements store.Store.
func (s *Store) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	if s.readOnly {
		return store.ErrReadOnly
	}
	select {
	case s.writing <- struct{}{}:
		defer func() { <-s.writing }()
	case <-ctx.Done():
		return ctx.Err()
	}
	var refused error
	var written []string
	err := s.db.Update(func(under *bbolt.Tx) error {
		written, refused = change(ctx, under, club, use)
		return refused
	})
	switch {
	case err == nil:
		s.watchers.wake(club, written)
		return nil
	case errors.Is(refused, errUnchanged):
		return nil
	case refused != nil:
		return refused
	case errors.Is(err, berrors.ErrDatabaseNotOpen):
		return store.ErrClosed
	}
	return fmt.Errorf("store: writing %s failed: %w: look at the disk's space and health, then read whether the change is there", s.path, err)
}

// change runs use and tells whether to commit, when it returns no error, and which keys were written.
func change(ctx context.Context, under *bbolt.Tx, club string, use func(store.Tx) error) (written []string, err error) {
	tx := begin(ctx, under, club)
	defer tx.end()
	if err := use(tx); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(tx.written) == 0 {
		return nil, errUnchanged
	}
	return tx.written, nil
}

// View implements store.Store.
func (s *Store) View(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	return s.view(func(under *bbolt.Tx) error {
		tx := begin(ctx, under, club)
		defer tx.end()
		return use(tx)
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
	if errors.Is(err, berrors.ErrDatabaseNotOpen) {
		return store.ErrClosed
	}
	if err != nil {
		return err
	}
	defer func() { _ = under.Rollback() }()
	return use(under)
}

// Close implements store.Store.
func (s *Store) Close() error {
	s.watchers.close()
	s.swap.RLock()
	defer s.swap.RUnlock()
	if err := s.db.Close(); err != nil {
		return fmt.Errorf("store: closing %s failed: %w", s.path, err)
	}
	return nil
}
