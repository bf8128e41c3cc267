package storetest

import (
	"context"
	"fmt"
	"testing"

	"gritward/internal/store"
)

// checkVersion: a version stays while nothing is written, and no other state ever has it. A Scrub, and what is written to another
// club, may change it; it must not be 0.
func checkVersion(t *testing.T, open Open) {
	s := open(t)
	states := map[uint64]string{0: "no version"}
	read := func(step int) (version uint64) {
		var state string
		must(t, s.View(context.Background(), clubA, func(tx store.Tx) error {
			value, err := tx.Get("k")
			version, state = tx.Version(), fmt.Sprintf("%q", value)
			return err
		}))
		if was, seen := states[version]; seen && was != state {
			t.Fatalf("step %d: version %d is that of %s, and was that of %s", step, version, state, was)
		}
		states[version] = state
		return version
	}
	for i := range 30 {
		version := read(i)
		must(t, s.Update(context.Background(), clubA, func(store.Tx) error { return nil })) // writes nothing
		if again := read(i); again != version {
			t.Fatalf("step %d: %d became %d, and nothing was written", i, version, again)
		}
		if i%10 == 9 {
			must(t, s.Scrub(context.Background()))
			read(i)
		}
		must(t, s.Update(context.Background(), clubB, func(tx store.Tx) error {
			if tx.Version() != 0 {
				t.Errorf("version %d in a transaction that may write", tx.Version())
			}
			return tx.Put("k", []byte{byte(i)})
		}))
		read(i)
		must(t, s.Update(context.Background(), clubA, func(tx store.Tx) error { return tx.Put("k", []byte{byte(i)}) }))
	}
}
