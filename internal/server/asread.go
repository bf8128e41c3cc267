package server

import (
	"sync"

	"gritward/internal/ledger"
)

// asRead keeps what was made of what the store has, about the newest few things that were asked about, each for as long as the store
// is as it was: many look at one ride between two changes. What it is about must tell apart all that goes in and is not in the store,
// such as the date. What is kept is shared, and must not be changed.
type asRead[V any] struct{ things *cache[*readThen[V]] }

type readThen[V any] struct {
	mu      sync.Mutex
	version uint64
	value   V
}

func newAsRead[V any](limit int) asRead[V] { return asRead[V]{newCache[*readThen[V]](limit)} }

// get gives what read makes now.
func (a asRead[V]) get(tx *ledger.Tx, about string, read func() (V, error)) (V, error) {
	version := tx.Version()
	if version == 0 {
		return read()
	}
	then, _ := a.things.get(about, func() (*readThen[V], error) { return &readThen[V]{}, nil }) // never an error
	then.mu.Lock()
	defer then.mu.Unlock()
	if then.version == version {
		return then.value, nil
	}
	value, err := read()
	if err == nil {
		then.version, then.value = version, value
	}
	return value, err
}
