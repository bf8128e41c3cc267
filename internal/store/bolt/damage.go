package bolt

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"sync/atomic"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"gritward/internal/store"
)

// health is whether the store's file is as it must be. Once damage was come upon, nothing is served any more: what else is wrong
// nobody knows.
type health struct {
	// whole ends when damage was come upon; its cause is the *store.DamagedError.
	whole context.Context
	end   context.CancelCauseFunc
	// stuck: a transaction of bbolt's could not be begun or ended for damage, and bbolt would wait for it for ever.
	stuck atomic.Bool
	// beginning is held while a transaction begins: who comes after one that got stuck sees the damage, and not bbolt's locks.
	beginning sync.Mutex
}

func newHealth() health {
	whole, end := context.WithCancelCause(context.Background())
	return health{whole: whole, end: end}
}

// Whole ends when damage was come upon in the file; its cause is the *store.DamagedError that every method has from then on.
func (s *Store) Whole() context.Context { return s.health.whole }

// sound refuses when damage was come upon.
func (s *Store) sound() error {
	if s.health.whole.Err() == nil {
		return nil
	}
	return context.Cause(s.health.whole)
}

// safely runs what reads the file through bbolt's eyes, which trust it. A panic, a memory fault, and what the sums show become
// an error, and the end of all service.
func (s *Store) safely(read func()) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			s.health.end(&store.DamagedError{Path: s.path, What: fmt.Sprintf("%.300v", fault)}) // the first one stays
			err = s.sound()
		}
	}()
	read()
	return nil
}

// beginUnder begins a transaction of bbolt's. Where that fails for damage, bbolt keeps its locks.
func (s *Store) beginUnder(writable bool) (under *bbolt.Tx, err error) {
	s.health.beginning.Lock()
	defer s.health.beginning.Unlock()
	if err := s.sound(); err != nil {
		return nil, err
	}
	if fault := s.safely(func() { under, err = s.db.Begin(writable) }); fault != nil {
		s.health.stuck.Store(true)
		return nil, fault
	}
	if errors.Is(err, berrors.ErrDatabaseNotOpen) {
		err = store.ErrClosed
	}
	return under, err
}

// safelyTry is safely for what may fail otherwise.
func (s *Store) safelyTry(do func() error) (err error) {
	if fault := s.safely(func() { err = do() }); fault != nil {
		return fault
	}
	return err
}
