// Package storetest holds an implementation of store.Store against what package store says of it.
package storetest

import (
	"context"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/store"
)

// Open opens the store that belongs to a test: a new and empty one at the first call, the same again at a call after
// Close. It closes what is still open, and checks what it can, when the test ends.
type Open = func(t *testing.T) store.Store

// clubA and clubB are the clubs of most tests.
const (
	clubA = "moor-wheelers"
	clubB = "moor"
)

// Run runs every check of the suite as a subtest with a store of its own.
func Run(t *testing.T, open func(t *testing.T) store.Store) {
	for _, group := range []map[string]func(*testing.T, Open){
		keyChecks(), scanChecks(), clubChecks(), transactionChecks(), contextChecks(), closeChecks(), concurrencyChecks(), groupChecks(), watchChecks(), dueChecks(),
		{"version": checkVersion},
		{"model": checkModel},
	} {
		for name, check := range group {
			t.Run(name, func(t *testing.T) { check(t, open) })
		}
	}
}

// entry is one key with its value.
type entry struct{ Key, Value string }

// put writes entries in one transaction.
func put(t rapid.TB, s store.Store, club string, entries ...entry) {
	t.Helper()
	must(t, s.Update(context.Background(), club, func(tx store.Tx) error {
		for _, e := range entries {
			if err := tx.Put(e.Key, []byte(e.Value)); err != nil {
				return err
			}
		}
		return nil
	}))
}

// all reads a club whole.
func all(t rapid.TB, s store.Store, club string) (entries []entry) {
	t.Helper()
	must(t, s.View(context.Background(), club, func(tx store.Tx) error {
		return tx.Scan("", "", into(&entries))
	}))
	return entries
}

// into collects what a scan visits.
func into(entries *[]entry) store.Visit {
	return func(key string, value []byte) (bool, error) {
		*entries = append(*entries, entry{key, string(value)})
		return true, nil
	}
}

// update and view run use in a transaction of club A.
func update(s store.Store, use func(store.Tx) error) error {
	return s.Update(context.Background(), clubA, use)
}

func view(s store.Store, use func(store.Tx) error) error {
	return s.View(context.Background(), clubA, use)
}

func must(t rapid.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
