package bolt_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// both writes one value under two keys.
func both(s store.Store, value string) error {
	return s.Update(context.Background(), "moor", func(tx store.Tx) error {
		return errors.Join(tx.Put("a", []byte(value)), tx.Put("b", []byte(value)))
	})
}

// together gives what two keys have in one View, and the number of that state.
func together(s store.Store) (a, b string, version uint64, err error) {
	err = s.View(context.Background(), "moor", func(tx store.Tx) error {
		first, err := tx.Get("a")
		second, more := tx.Get("b")
		a, b, version = string(first), string(second), tx.Version()
		return errors.Join(err, more)
	})
	return a, b, version, err
}

// isMeta tells whether what is written at a place of the file is one of the two pages in which it begins.
func isMeta(at int64) bool { return at < 2*int64(os.Getpagesize()) }

// TestSeenWhileFiled: who reads while a commit brings a batch into the file, with what stands in the journal, sees all of the batch or nothing: not
// the batch with something older from the journal over it.
func TestSeenWhileFiled(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "club.db"))
	if err := both(s, "old"); err != nil {
		t.Fatal(err)
	}
	for i := range 20 {
		value := fmt.Sprint("value ", i)
		// Of the batch before, a stands in the journal alone.
		if err := put(s, "a", []byte("a alone")); err != nil {
			t.Fatal(err)
		}
		type seen struct {
			a, b    string
			version uint64
			err     error
		}
		saw := make(chan seen, 1)
		back := s.Writes(func(to func([]byte, int64) (int, error), data []byte, at int64) (int, error) {
			if isMeta(at) { // bbolt lets nobody begin to read until it is written; then it is brought to the disk
				go func() {
					var one seen
					one.a, one.b, one.version, one.err = together(s)
					saw <- one
				}()
			}
			return to(data, at)
		})
		_, before, _, _ := together(s)
		s.FileNext()
		if err := both(s, value); err != nil {
			t.Fatal(err)
		}
		one := <-saw
		back()
		whole := one.a == value && one.b == value || one.a == "a alone" && one.b == before
		if one.err != nil || !whole {
			t.Fatalf("a is %q and b is %q, %v, before %q", one.a, one.b, one.err, before)
		}
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestFailedButThere: a commit that failed when its first page was written is in the file, as who writes on finds it: all of it or nothing,
// now, after the next commit, and after a loss of power.
func TestFailedButThere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := opened(t, path)
	reading, writing, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer reading.Close()
	defer writing.Close()
	if err := errors.Join(both(s, "old"), s.FileNow(t.Context()), put(s, "a", []byte("a alone"))); err != nil {
		t.Fatal(err)
	}
	var synced func()
	back := s.Writes(func(to func([]byte, int64) (int, error), data []byte, at int64) (int, error) {
		if isMeta(at) && synced == nil {
			synced = s.SyncTo(writing)
		}
		return to(data, at)
	})
	_, _, before, _ := together(s)
	s.FileNext()
	if err := both(s, "new"); !errors.Is(err, syscall.EINVAL) && !errors.Is(err, syscall.EROFS) {
		t.Fatalf("a disk that fails: %v", err)
	}
	back()
	synced()
	whole := func(what string, s store.Store) (value string) {
		t.Helper()
		a, b, version, err := together(s)
		if err != nil || !(a == "new" && b == "new" || a == "a alone" && b == "old") {
			t.Errorf("%s: a is %q and b is %q, %v", what, a, b, err)
		}
		if s == store.Store(nil) || version == 0 {
			t.Errorf("%s: version %d", what, version)
		}
		return a
	}
	first := whole("after the fault", s)
	if _, _, now, _ := together(s); first == "new" && now <= before {
		t.Errorf("version %d after %d", now, before)
	}
	if err := put(s, "c", nil); err != nil {
		t.Fatal(err)
	}
	if value := whole("after the next commit", s); value != first {
		t.Errorf("%q became %q", first, value)
	}
	left := opened(t, besides(t, path))
	whole("after a loss of power", left)
	if err := errors.Join(left.Close(), s.Close()); err != nil {
		t.Fatal(err)
	}
	again := opened(t, path)
	if value := whole("opened again", again); value != first {
		t.Errorf("%q became %q", first, value)
	}
	if err := errors.Join(again.Verify(t.Context(), nil), again.Close()); err != nil {
		t.Error(err)
	}
}

// TestFirstRecordFails: where nothing of the first record reaches the journal, there still is what stood there two states of the file before: the store is opened all the
// same when its process was killed.
func TestFirstRecordFails(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	options, fails := bolt.Options{Path: path, Now: madeAt}, false
	options.SyncJournal(func(file *os.File) error { // what was not brought to the disk is lost with the power
		if !fails {
			return file.Sync()
		}
		return syscall.EIO
	})
	s, err := bolt.Open(options)
	if err != nil {
		t.Fatal(err)
	}
	if err := put(s, "n0", []byte("value 0")); err != nil {
		t.Fatal(err)
	}
	journal := bytesIn(t, path+".journal")
	if err := s.FileNow(t.Context()); err != nil {
		t.Fatal(err)
	}
	fails = true
	if err := put(s, "n1", []byte("value 1")); err != nil {
		t.Fatal(err)
	}
	fails = false
	left := besides(t, path)
	if now := bytesIn(t, left+".journal"); len(now) > 0 { // what was written did not reach the disk
		if err := os.WriteFile(left+".journal", journal, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	again := opened(t, left)
	holds(t, "when the first record failed", again, 2)
	for i := 2; i < 4; i++ {
		if err := put(s, fmt.Sprint("n", i), fmt.Append(nil, "value ", i)); err != nil {
			t.Fatal(err)
		}
	}
	third := opened(t, besides(t, path))
	holds(t, "when the journal is used again", third, 4)
	if err := errors.Join(again.Close(), third.Close(), s.Close()); err != nil {
		t.Error(err)
	}
}

// TestDamagedKeepsJournal: a store that is closed since its file is damaged leaves its journal: the last changes stand there alone.
func TestDamagedKeepsJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := standing(t, path, 2, 5)
	journal := bytesIn(t, path+".journal")
	s.Damage()
	if err := s.Close(); err != nil {
		t.Log(err)
	}
	if left, err := os.ReadFile(path + ".journal"); err != nil || string(left) != string(journal) {
		t.Fatalf("the journal is not as it was: %v", err)
	}
	again := opened(t, path)
	holds(t, "opened again", again, 5)
	if err := again.Close(); err != nil {
		t.Error(err)
	}
}

// TestReadOnWhereCommitFailed: who reads while a commit fails that is in the file all the same reads on what it began with: bbolt would write over
// its pages then. Nothing is written until it has ended.
func TestReadOnWhereCommitFailed(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "club.db"))
	reading, writing, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer reading.Close()
	defer writing.Close()
	if err := errors.Join(both(s, "old"), s.FileNow(t.Context())); err != nil {
		t.Fatal(err)
	}
	if err := s.View(t.Context(), "moor", func(tx store.Tx) error {
		var synced func()
		back := s.Writes(func(to func([]byte, int64) (int, error), data []byte, at int64) (int, error) {
			if isMeta(at) && synced == nil {
				synced = s.SyncTo(writing)
			}
			return to(data, at)
		})
		s.FileNext()
		failed := both(s, "new")
		back()
		synced()
		if failed == nil {
			t.Error("nobody was told")
		}
		for i := range 8 {
			s.FileNext()
			if err := both(s, fmt.Sprint("newer ", i)); err == nil || !strings.Contains(err.Error(), "reads what was there before") {
				t.Errorf("written over what is read: %v", err)
			}
		}
		for _, key := range []string{"a", "b"} {
			if value, err := tx.Get(key); err != nil || string(value) != "old" {
				t.Errorf("%s is %q, %v, for who began before", key, value, err)
			}
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
	if err := both(s, "newest"); err != nil {
		t.Error("afterwards:", err)
	}
	if a, b, _, err := together(s); a != "newest" || b != "newest" {
		t.Error(a, b, err)
	}
	if err := errors.Join(s.Verify(t.Context(), nil), s.Close()); err != nil {
		t.Error(err)
	}
}
