package bolt

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"gritward/internal/store"
)

// TestFailedBelow: who has got the word already when the commit below fails does not have the others of the batch forget what they
// wrote upon.
func TestFailedBelow(t *testing.T) {
	s, err := Open(Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	puts := func(b *batch, key string) {
		t.Helper()
		if _, err := b.run(t.Context(), "moor", func(tx store.Tx) error { return tx.Put(key, []byte("1")) }); err != nil {
			t.Fatal(err)
		}
	}
	below := newBatch(s, nil)
	puts(below, "a")
	above := newBatch(s, below)
	puts(above, "b")
	s.queue.mu.Lock()
	s.queue.open, s.queue.busy = above, true // somebody has the word, and has not begun
	s.queue.mu.Unlock()
	broken := errors.New("the disk is broken")
	below.failed = broken
	close(below.committed)
	puts(above, "c")
	s.queue.leave()
	if <-above.committed; !errors.Is(above.failed, broken) {
		t.Errorf("the batch above ended with %v, want the failure of the one below", above.failed)
	}
	if err := s.View(t.Context(), "moor", func(tx store.Tx) error {
		for _, key := range []string{"a", "b", "c"} {
			if value, err := tx.Get(key); err != nil || value != nil {
				t.Errorf("%s is %q, %v, and the commit below failed", key, value, err)
			}
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
