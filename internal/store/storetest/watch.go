package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"

	"gritward/internal/store"
)

func watchChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"a watcher is woken by what it watches": checkWoken,
		"a watch ends with its context":         checkWatchEnds,
		"a watch ends with the store":           checkWatchClosed,
		"watchers miss nothing":                 checkWatchersMissNothing,
	}
}

// checkWoken writes, deletes, and writes under a prefix that is watched.
func checkWoken(t *testing.T, open Open) {
	s := open(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	woken, err := s.Watch(ctx, clubA, "ride/7/")
	must(t, err)
	put(t, s, clubA, entry{"ride/7/a", "1"})
	if _, open := <-woken; !open {
		t.Fatal("the watch ended by itself")
	}
	for i := range 3 { // nobody takes these wake-ups, and nobody waits
		put(t, s, clubA, entry{fmt.Sprint("ride/7/", i), "1"}, entry{"other", "1"})
	}
	<-woken
	must(t, update(s, func(tx store.Tx) error { return tx.Delete("ride/7/a") }))
	<-woken
}

func checkWatchEnds(t *testing.T, open Open) {
	s := open(t)
	ctx, cancel := context.WithCancel(context.Background())
	woken, err := s.Watch(ctx, clubA, "")
	must(t, err)
	cancel()
	for range woken { // until it is closed
	}
	put(t, s, clubA, entry{"a", "1"})
	if _, err := s.Watch(ctx, clubA, ""); !errors.Is(err, context.Canceled) {
		t.Errorf("a watch with an ended context: %v", err)
	}
	if _, err := s.Watch(context.Background(), "", ""); err == nil {
		t.Error("a watch of no club")
	}
}

func checkWatchClosed(t *testing.T, open Open) {
	s := open(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	woken, err := s.Watch(ctx, clubA, "")
	must(t, err)
	must(t, s.Close())
	for range woken {
	}
	if _, err := s.Watch(ctx, clubA, ""); !errors.Is(err, store.ErrClosed) {
		t.Errorf("a watch of a closed store: %v", err)
	}
}

// checkWatchersMissNothing has writers append to logs of two clubs while watchers read after each wake-up: each must come
// to the end, and see the entries in order.
func checkWatchersMissNothing(t *testing.T, open Open) {
	const writers, rounds = 4, 25
	s := open(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var group sync.WaitGroup
	for _, club := range []string{clubA, clubB, clubA} {
		woken, err := s.Watch(ctx, club, "log/")
		must(t, err)
		group.Go(func() {
			last := 0
			for last < writers*rounds {
				if _, open := <-woken; !open {
					t.Errorf("%s: the watch ended at %d", club, last)
					return
				}
				err := s.View(context.Background(), club, func(tx store.Tx) error {
					return tx.Scan("log/", fmt.Sprintf("log/%06d", last), func(key string, _ []byte) (bool, error) {
						if last++; key != fmt.Sprintf("log/%06d", last) {
							return false, fmt.Errorf("%s follows %d", key, last-1)
						}
						return true, nil
					})
				})
				if err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	for range writers {
		for _, club := range []string{clubA, clubB} {
			group.Go(func() {
				for range rounds {
					err := s.Update(context.Background(), club, func(tx store.Tx) error {
						n, err := increment(tx, "count")
						if err != nil {
							return err
						}
						return tx.Put(fmt.Sprintf("log/%06d", n), nil)
					})
					if err != nil {
						t.Error(err)
					}
				}
			})
		}
	}
	group.Wait()
}
