package storetest

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"sync"
	"testing"

	"gritward/internal/store"
)

func concurrencyChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"no increment is lost":               checkCounter,
		"no write skew":                      checkWriteSkew,
		"a view sees one moment":             checkViewIsolation,
		"a view sees no half transaction":    checkViewConsistency,
		"an update is unseen before its end": checkUpdateUnseen,
	}
}

// increment adds one to a counter, and gives the sum.
func increment(tx store.Tx, key string) (sum int, err error) {
	data, err := tx.Get(key)
	if err != nil {
		return 0, err
	}
	if data != nil {
		if sum, err = strconv.Atoi(string(data)); err != nil {
			return 0, err
		}
	}
	return sum + 1, tx.Put(key, strconv.AppendInt(nil, int64(sum+1), 10))
}

// checkCounter increments counters of two clubs from many goroutines; some transactions fail after they incremented.
func checkCounter(t *testing.T, open Open) {
	const workers, rounds = 8, 20
	s, refusal := open(t), errors.New("refused")
	var group sync.WaitGroup
	for worker := range workers {
		group.Go(func() {
			club := []string{clubA, clubB}[worker%2]
			for round := range rounds {
				err := s.Update(context.Background(), club, func(tx store.Tx) error {
					if _, err := increment(tx, "counter"); err != nil || round%4 != 0 {
						return err
					}
					return refusal
				})
				if (round%4 == 0) != errors.Is(err, refusal) || round%4 != 0 && err != nil {
					t.Errorf("worker %d, round %d: %v", worker, round, err)
				}
			}
		})
	}
	group.Wait()
	want := []entry{{"counter", strconv.Itoa(workers / 2 * rounds * 3 / 4)}}
	compare(t, clubA, want, all(t, s, clubA))
	compare(t, clubB, want, all(t, s, clubB))
}

// checkWriteSkew lets pairs of transactions each read both keys and write one: only under serialisable isolation does
// one of the two see what the other wrote (Berenson et al., "A Critique of ANSI SQL Isolation Levels", 1995, A5B).
func checkWriteSkew(t *testing.T, open Open) {
	s := open(t)
	for round := range 20 {
		put(t, s, clubA, entry{"on-duty/x", "yes"}, entry{"on-duty/y", "yes"})
		var group sync.WaitGroup
		for _, mine := range []string{"on-duty/x", "on-duty/y"} {
			group.Go(func() {
				err := update(s, func(tx store.Tx) error {
					count := 0
					err := tx.Scan("on-duty/", "", func(string, []byte) (bool, error) { count++; return true, nil })
					if err != nil || count < 2 {
						return err
					}
					return tx.Delete(mine)
				})
				if err != nil {
					t.Error(err)
				}
			})
		}
		group.Wait()
		if left := all(t, s, clubA); len(left) != 1 {
			t.Fatalf("round %d: %v left on duty, want one", round, left)
		}
	}
}

// checkViewIsolation commits, in the middle of a view, changes to what the view has not read yet.
func checkViewIsolation(t *testing.T, open Open) {
	s := open(t)
	before := []entry{{"a", "1"}, {"b", "2"}, {"c", "3"}}
	put(t, s, clubA, before...)
	must(t, view(s, func(tx store.Tx) error {
		wants(t, tx, "a", []byte("1"))
		done := make(chan error)
		go func() {
			for i := range 30 { // enough for pages to be used again, were they not the view's
				if err := update(s, func(tx store.Tx) error {
					return errors.Join(tx.Put("a", []byte("changed")), tx.Delete("b"), tx.Put(fmt.Sprint("d", i), make([]byte, 5000)))
				}); err != nil {
					done <- err
					return
				}
			}
			done <- nil
		}()
		must(t, <-done)
		var got []entry
		must(t, tx.Scan("", "", into(&got)))
		compare(t, "the view", before, got)
		wants(t, tx, "b", []byte("2"))
		return nil
	}))
	if got := all(t, s, clubA); len(got) != 32 || got[0].Value != "changed" {
		t.Errorf("after the view: %d keys, want 32 and the first changed", len(got))
	}
}

// checkViewConsistency reads, while others write, two keys that every transaction makes equal.
func checkViewConsistency(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"x", "0"}, entry{"y", "0"})
	var readers sync.WaitGroup
	ctx, stop := context.WithCancel(context.Background())
	for range 3 {
		readers.Go(func() {
			for last := -1; ctx.Err() == nil; {
				err := view(s, func(tx store.Tx) error {
					x, xErr := tx.Get("x")
					y, yErr := tx.Get("y")
					sum, err := strconv.Atoi(string(x))
					if string(x) != string(y) || sum < last {
						t.Errorf("x = %s, y = %s after %d was seen", x, y, last)
					}
					last = sum
					return errors.Join(xErr, yErr, err)
				})
				if err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	for range 60 {
		must(t, update(s, func(tx store.Tx) error {
			_, xErr := increment(tx, "x")
			_, yErr := increment(tx, "y")
			return errors.Join(xErr, yErr)
		}))
	}
	stop()
	readers.Wait()
}

// checkUpdateUnseen reads from beside an update that has written but not ended.
func checkUpdateUnseen(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	must(t, update(s, func(tx store.Tx) error {
		must(t, spoil(tx))
		seen := make(chan []entry)
		go func() {
			var entries []entry
			if err := view(s, func(tx store.Tx) error { return tx.Scan("", "", into(&entries)) }); err != nil {
				t.Error(err)
			}
			seen <- entries
		}()
		compare(t, "beside the update", []entry{{"a", "1"}, {"b", "2"}}, <-seen)
		return nil
	}))
	compare(t, "after the update", []entry{{"a", "spoilt"}, {"new", "spoilt"}}, all(t, s, clubA))
}
