package storetest

import (
	"context"
	"errors"
	"sync"
	"testing"

	"gritward/internal/store"
)

func contextChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"a context that ended before":          checkContextBefore,
		"a context that ends before commit":    checkContextDuring,
		"a context that ends inside a scan":    checkContextInScan,
		"waiting to write ends with a context": checkContextWaiting,
	}
}

func checkContextBefore(t *testing.T, open Open) {
	s := open(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	unused := func(store.Tx) error { t.Error("a transaction ran"); return nil }
	_, clubsErr := s.Clubs(ctx)
	for what, err := range map[string]error{"Update": s.Update(ctx, clubA, unused), "View": s.View(ctx, clubA, unused), "Clubs": clubsErr} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v, want context.Canceled", what, err)
		}
	}
}

func checkContextDuring(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	ctx, cancel := context.WithCancel(context.Background())
	err := s.Update(ctx, clubA, func(tx store.Tx) error {
		defer cancel()
		return spoil(tx)
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want context.Canceled", err)
	}
	unspoilt(t, s)
	must(t, s.Close())
	unspoilt(t, open(t))
}

func checkContextInScan(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	for what, run := range map[string]func(context.Context, string, func(store.Tx) error) error{"Update": s.Update, "View": s.View} {
		ctx, cancel := context.WithCancel(context.Background())
		visits := 0
		err := run(ctx, clubA, func(tx store.Tx) error {
			visits = 0
			return tx.Scan("", "", func(string, []byte) (bool, error) { visits++; cancel(); return true, nil })
		})
		if visits != 1 || !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %d visits, %v; want 1, context.Canceled", what, visits, err)
		}
	}
}

// checkContextWaiting lets a second writer give up while the first still writes.
func checkContextWaiting(t *testing.T, open Open) {
	s := open(t)
	ctx, cancel := context.WithCancel(context.Background())
	must(t, update(s, func(tx store.Tx) error {
		second, started := make(chan error), make(chan struct{})
		go func() {
			close(started)
			second <- s.Update(ctx, clubA, func(tx store.Tx) error { return tx.Put("second", nil) })
		}()
		<-started
		cancel()
		if err := <-second; !errors.Is(err, context.Canceled) {
			t.Errorf("the second writer: %v, want context.Canceled", err)
		}
		return tx.Put("first", nil)
	}))
	if got := all(t, s, clubA); len(got) != 1 || got[0].Key != "first" {
		t.Errorf("written: %v, want first", got)
	}
}

func closeChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"a closed store refuses":              checkClosed,
		"closing waits for what is under way": checkCloseWaits,
	}
}

func checkClosed(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"})
	for range 2 {
		must(t, s.Close())
	}
	unused := func(store.Tx) error { t.Error("a transaction ran"); return nil }
	_, clubsErr := s.Clubs(context.Background())
	for what, err := range map[string]error{"Update": update(s, unused), "View": view(s, unused), "Clubs": clubsErr} {
		if !errors.Is(err, store.ErrClosed) {
			t.Errorf("%s: %v, want ErrClosed", what, err)
		}
	}
}

func checkCloseWaits(t *testing.T, open Open) {
	s := open(t)
	closed := make(chan error, 1)
	var closing sync.Once
	must(t, update(s, func(tx store.Tx) error {
		started := make(chan struct{})
		closing.Do(func() {
			go func() { close(started); closed <- s.Close() }()
			<-started
		})
		return tx.Put("a", []byte("1"))
	}))
	must(t, <-closed)
	if got := all(t, open(t), clubA); len(got) != 1 {
		t.Errorf("kept: %v, want what the transaction wrote", got)
	}
}
