package storetest

import (
	"context"
	"testing"

	"gritward/internal/store"
)

// checkVersion: a version stays while nothing is written, and never comes back.
func checkVersion(t *testing.T, open Open) {
	s := open(t)
	read := func() (version uint64) {
		must(t, s.View(context.Background(), clubA, func(tx store.Tx) error { version = tx.Version(); return nil }))
		return version
	}
	seen := map[uint64]bool{0: true}
	for i := range 30 {
		version := read()
		if seen[version] {
			t.Fatalf("step %d: version %d was that of another state", i, version)
		}
		seen[version] = true
		must(t, s.Update(context.Background(), clubA, func(store.Tx) error { return nil })) // writes nothing
		if again := read(); again != version {
			t.Fatalf("step %d: %d became %d, and nothing was written", i, version, again)
		}
		if i%10 == 9 {
			must(t, s.Scrub(context.Background()))
			if version = read(); seen[version] {
				t.Fatalf("step %d: after a Scrub version %d was that of another state", i, version)
			}
			seen[version] = true
		}
		must(t, s.Update(context.Background(), clubB, func(tx store.Tx) error { // of another club: it may change, and must not come back
			if tx.Version() != 0 {
				t.Errorf("version %d in a transaction that may write", tx.Version())
			}
			return tx.Put("k", []byte{byte(i)})
		}))
		if version = read(); seen[version] {
			t.Fatalf("step %d: after a write version %d was that of another state", i, version)
		}
		seen[version] = true
		must(t, s.Update(context.Background(), clubA, func(tx store.Tx) error { return tx.Put("k", []byte{byte(i)}) }))
	}
}
