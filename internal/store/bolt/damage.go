package bolt

import (
	"fmt"
	"runtime/debug"
	"sync/atomic"

	"gritward/internal/store"
)

// health is whether the store's file is as it must be. Once damage was come upon, nothing is served any more: what else is wrong
// nobody knows.
type health struct {
	found atomic.Pointer[store.DamagedError]
	// told is closed when damage was come upon.
	told chan struct{}
	// stuck: the one transaction that writes could not be ended, and bbolt would wait for it.
	stuck atomic.Bool
}

// Damaged is closed when damage was come upon in the file. Every method has a *store.DamagedError from then on.
func (s *Store) Damaged() <-chan struct{} { return s.health.told }

// sound refuses when damage was come upon.
func (s *Store) sound() error {
	if found := s.health.found.Load(); found != nil {
		return found
	}
	return nil
}

// safely runs what reads the file through bbolt's eyes, which trust it. A panic, a memory fault, and what the sums show become
// an error, and the end of all service.
func (s *Store) safely(read func()) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			found := &store.DamagedError{Path: s.path, What: fmt.Sprintf("%.300v", fault)}
			if s.health.found.CompareAndSwap(nil, found) {
				close(s.health.told)
			}
			err = s.sound()
		}
	}()
	read()
	return nil
}

// safelyTry is safely for what may fail otherwise.
func (s *Store) safelyTry(do func() error) (err error) {
	if fault := s.safely(func() { err = do() }); fault != nil {
		return fault
	}
	return err
}
