package bolt_test

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// TestReadOnlyKeepsOut: who reads a store with what stands in its journal, which takes a copy, keeps others from writing meanwhile all the same: of a
// store that is moved elsewhere nothing may be written that is not moved. Others may read it, too.
func TestReadOnlyKeepsOut(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := standing(t, path, 2, 5)
	left := besides(t, path)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	reading := bolt.Options{Path: left, Now: madeAt, ReadOnly: true}
	first, err := bolt.Open(reading)
	if err != nil {
		t.Fatal(err)
	}
	second, err := bolt.Open(reading)
	if err != nil {
		t.Fatal(err)
	}
	holds(t, "read by two", second, 5)
	writing := bolt.Options{Path: left, Now: madeAt, LockTimeout: time.Millisecond}
	for _, open := range []*bolt.Store{first, second} {
		s, err := bolt.Open(writing)
		if locked := (*store.LockedError)(nil); !errors.As(err, &locked) {
			t.Errorf("it was written to while it was read: %v", err)
		}
		if err == nil {
			err = s.Close()
			t.Log(err)
		}
		if err := open.Close(); err != nil {
			t.Error(err)
		}
	}
	last := opened(t, left)
	holds(t, "afterwards", last, 5)
	if err := last.Close(); err != nil {
		t.Error(err)
	}
}
