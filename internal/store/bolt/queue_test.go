package bolt_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// holding lets nobody write until release is called; everybody has been served then.
func holding(t testing.TB, s *bolt.Store) (release func()) {
	t.Helper()
	held, free, done := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		done <- s.Update(context.Background(), "moor", func(store.Tx) error { close(held); <-free; return nil })
	}()
	<-held
	return func() {
		close(free)
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}

// inLine waits until so many are in the line.
func inLine(s *bolt.Store, count int) {
	for s.Waiting() != count {
		runtime.Gosched()
	}
}

// TestOneCommit: those who waited share one commit, failing ones among them, and nobody is answered without it.
func TestOneCommit(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := direct(t, path)
	if err := put(s, "a", nil); err != nil {
		t.Fatal(err)
	}
	before := s.Commits()
	release := holding(t, s)
	var group sync.WaitGroup
	refusal := errors.New("no")
	for i := range 300 {
		group.Go(func() {
			err := s.Update(context.Background(), fmt.Sprint("club-", i%3), func(tx store.Tx) error {
				if err := tx.Put(fmt.Sprint(i), make([]byte, 1500)); err != nil || i%10 > 0 {
					return err
				}
				return refusal
			})
			if (i%10 == 0) != errors.Is(err, refusal) || i%10 > 0 && err != nil {
				t.Errorf("number %d: %v", i, err)
			}
		})
	}
	inLine(s, 300)
	release()
	group.Wait()
	// A batch ends after some time, too, which a busy machine may use up.
	if commits := s.Commits() - before; commits < 1 || commits > 30 {
		t.Errorf("300 transactions took %d commits", commits)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	bare(t, path, func(tx *bbolt.Tx) error {
		for i := range 300 {
			there := tx.Bucket([]byte("clubs")).Bucket(fmt.Append(nil, "club-", i%3)).Get(fmt.Append(nil, i)) != nil
			if there != (i%10 > 0) {
				t.Errorf("number %d is there: %t", i, there)
			}
		}
		return nil
	})
}

// TestTooMany: beyond the limit a caller is refused at once, and who went away makes room.
func TestTooMany(t *testing.T) {
	s, err := bolt.Open(bolt.Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: madeAt, WaitingLimit: 5})
	if err != nil {
		t.Fatal(err)
	}
	release := holding(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	var staying, going sync.WaitGroup
	for i := range 3 {
		staying.Go(func() {
			if err := put(s, fmt.Sprint("stays", i), nil); err != nil {
				t.Error(err)
			}
		})
	}
	inLine(s, 3)
	for range 2 {
		going.Go(func() {
			err := s.Update(ctx, "moor", func(store.Tx) error { t.Error("it ran"); return nil })
			if !errors.Is(err, context.Canceled) {
				t.Error(err)
			}
		})
	}
	inLine(s, 5)
	unused := func(store.Tx) error { t.Error("it ran"); return nil }
	if err := s.Update(t.Context(), "moor", unused); !errors.Is(err, store.ErrBusy) {
		t.Errorf("the sixth: %v, want ErrBusy", err)
	}
	if err := s.Scrub(t.Context()); !errors.Is(err, store.ErrBusy) {
		t.Errorf("Scrub as the sixth: %v, want ErrBusy", err)
	}
	if value, err := get(s, "stays0"); err != nil || value != nil {
		t.Errorf("reading meanwhile: %q, %v", value, err)
	}
	cancel()
	going.Wait()
	for range 2 {
		staying.Go(func() {
			if err := put(s, "came later", nil); err != nil {
				t.Error(err)
			}
		})
	}
	inLine(s, 5)
	release()
	staying.Wait()
	if err := errors.Join(put(s, "after", nil), s.Close()); err != nil {
		t.Error(err)
	}
}

// TestCloseDrains: closing lets nobody in any more, and serves those who are in the line.
func TestCloseDrains(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := opened(t, path)
	woken, err := s.Watch(t.Context(), "moor", "n")
	if err != nil {
		t.Fatal(err)
	}
	release := holding(t, s)
	var group sync.WaitGroup
	for i := range 50 {
		group.Go(func() {
			if err := put(s, fmt.Sprint("n", i), []byte("v")); err != nil {
				t.Errorf("number %d: %v", i, err)
			}
		})
	}
	inLine(s, 50)
	closed := make(chan error, 2)
	for range 2 {
		go func() { closed <- s.Close() }()
	}
	for !s.Closed() {
		runtime.Gosched()
	}
	if err := put(s, "late", nil); !errors.Is(err, store.ErrClosed) {
		t.Errorf("who comes late: %v, want ErrClosed", err)
	}
	release()
	group.Wait()
	if err := errors.Join(<-closed, <-closed); err != nil {
		t.Error(err)
	}
	if _, open := <-woken; !open {
		t.Error("the watch ended before what was drained woke it")
	}
	again := opened(t, path)
	for i := range 50 {
		if value, err := get(again, fmt.Sprint("n", i)); err != nil || string(value) != "v" {
			t.Errorf("number %d: %q, %v", i, value, err)
		}
	}
	if err := again.Close(); err != nil {
		t.Error(err)
	}
}

// TestGoexit: a goroutine that ends inside its transaction, as t.FailNow does, stops nobody.
func TestGoexit(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "club.db"))
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = s.Update(t.Context(), "moor", func(tx store.Tx) error {
			if err := tx.Put("a", []byte("spoilt")); err != nil {
				t.Error(err)
			}
			runtime.Goexit()
			return nil
		})
	}()
	<-ended
	if value, err := get(s, "a"); err != nil || value != nil {
		t.Errorf("%q, %v", value, err)
	}
	if err := errors.Join(put(s, "b", nil), s.Close()); err != nil {
		t.Error(err)
	}
}

// TestWhileCommitting: who writes or reads on top of what is on its way to the disk is answered after it, and fails with it.
func TestWhileCommitting(t *testing.T) {
	for _, fails := range []bool{false, true} {
		s := direct(t, filepath.Join(t.TempDir(), "club.db"))
		if err := put(s, "old", []byte("1")); err != nil {
			t.Fatal(err)
		}
		var once sync.Once
		held, free, broken := make(chan struct{}), make(chan struct{}), errors.New("the disk is broken")
		back := s.Writes(func(to func([]byte, int64) (int, error), data []byte, at int64) (n int, err error) {
			once.Do(func() {
				close(held)
				if <-free; fails {
					err = broken
				}
			})
			if err != nil {
				return 0, err
			}
			return to(data, at)
		})
		first, reader, writer := make(chan error, 1), make(chan error, 1), make(chan error, 1)
		go func() { first <- put(s, "a", []byte("1")) }()
		<-held
		ran := make(chan struct{}, 2)
		seeing := func(and func(store.Tx) error) error {
			return s.Update(context.Background(), "moor", func(tx store.Tx) error {
				defer func() { ran <- struct{}{} }()
				value, err := tx.Get("a")
				if string(value) != "1" {
					t.Errorf("a is %q for who comes after", value)
				}
				return errors.Join(err, and(tx))
			})
		}
		go func() { reader <- seeing(func(store.Tx) error { return nil }) }()
		go func() { writer <- seeing(func(tx store.Tx) error { return tx.Put("b", []byte("1")) }) }()
		<-ran
		<-ran
		select {
		case <-reader:
			t.Error("who read was answered before the disk had what was read")
		case <-writer:
			t.Error("who wrote was answered before the disk had it")
		default:
		}
		close(free)
		for who, got := range map[string]chan error{"first": first, "reader": reader, "writer": writer} {
			if err := <-got; fails != errors.Is(err, broken) || !fails && err != nil {
				t.Errorf("%s: %v, and the disk fails: %t", who, err, fails)
			}
		}
		back()
		if err := put(s, "after", nil); err != nil {
			t.Error(err)
		}
		for _, key := range []string{"a", "b"} {
			if value, err := get(s, key); err != nil || (value != nil) == fails {
				t.Errorf("%s is %q, %v, and the disk failed: %t", key, value, err, fails)
			}
		}
		if err := errors.Join(s.Verify(context.Background(), nil), s.Close()); err != nil {
			t.Error(err)
		}
	}
}
