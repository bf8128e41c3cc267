package bolt

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"go.etcd.io/bbolt"

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
	s.queue.leave(nil)
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

// TestMapped: bbolt has at least so much of a file in memory as is reckoned with.
func TestMapped(t *testing.T) {
	for _, size := range []int64{0, mapBytes - 1<<20, mapBytes, mapBytes + 1<<20, 2 * mapBytes, 3 * mapBytes, 5 * mapBytes} {
		path := filepath.Join(t.TempDir(), "club.db")
		s, err := Open(Options{Path: path, Now: time.Now})
		if err != nil {
			t.Fatal(err)
		}
		used := int64(0)
		if err := errors.Join(s.read(func(under *bbolt.Tx, _ *state, _ uint64) error { used = under.Size(); return nil }), s.Close()); err != nil {
			t.Fatal(err)
		}
		used = max(used, size)
		if err := os.Truncate(path, used); err != nil { // as if so much of it were in use
			t.Fatal(err)
		}
		if s, err = Open(Options{Path: path, Now: time.Now}); err != nil {
			t.Fatal(err)
		}
		if has, reckoned := reflect.ValueOf(s.db).Elem().FieldByName("datasz").Int(), mapped(used); has < reckoned || reckoned < used {
			t.Errorf("of %d bytes bbolt has %d in memory, reckoned with are %d", used, has, reckoned)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestRoom: a file never grows by more with a commit than is reckoned with.
func TestRoom(t *testing.T) {
	options := Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: time.Now}
	options.WithoutJournal()
	s, err := Open(options)
	if err != nil {
		t.Fatal(err)
	}
	size := func() (n int64) {
		_ = s.read(func(under *bbolt.Tx, _ *state, _ uint64) error { n = under.Size(); return nil })
		return n
	}
	random := rand.New(rand.NewPCG(1, 2)) //nolint:gosec // not for secrets
	for round := range 60 {
		b, before, room := newBatch(s, nil), size(), int64(0)
		for i := range 1 << (round % 10) {
			if _, err := b.run(t.Context(), fmt.Sprint("club-", i%3), func(tx store.Tx) error {
				key := fmt.Sprintf("%0*d", 1+random.IntN(200), random.IntN(1e9))
				if round%6 == 5 {
					return errors.Join(tx.Put(key, nil), tx.Delete(key))
				}
				return tx.Put(key, make([]byte, random.IntN(1+random.IntN(20000))))
			}); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.read(func(under *bbolt.Tx, _ *state, _ uint64) error {
			room = newFiling(s.journal, s.seen().with(b)).room(under)
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if err := b.settle(); err != nil {
			t.Fatal(err)
		}
		if grown := size() - before; grown > room {
			t.Errorf("round %d: %d bytes more, reckoned with were %d", round, grown, room)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}
