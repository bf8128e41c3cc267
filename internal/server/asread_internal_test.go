package server

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// TestAsRead: what was made is given again for as long as nothing is written, to whoever asks about the same; never in a transaction that
// writes, whose state may come to nothing; and no error is kept.
func TestAsRead(t *testing.T) {
	opened, err := bolt.Open(bolt.Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = opened.Close() }()
	l, kept, made := ledger.New(opened, time.Now), newAsRead[int](2), 0
	fails := errors.New("not now")
	ask := func(about string, broken error) func(*ledger.Tx) error {
		return func(tx *ledger.Tx) error {
			_, err := kept.get(tx, about, func() (int, error) { made++; return made, broken })
			return err
		}
	}
	looks := func(about string, broken error) error { return l.View(t.Context(), "moor", ask(about, broken)) }
	writes := func(use func(*ledger.Tx) error) error { return l.Update(t.Context(), "moor", use) }
	found := func(tx *ledger.Tx) error { return tx.Found(&pb.Club{Title: "Moor", Zone: "UTC"}) }
	for _, step := range []struct {
		what string
		do   func() error
		ends error
		made int
	}{
		{"fails", func() error { return looks("a", fails) }, fails, 1},
		{"first", func() error { return looks("a", nil) }, nil, 2},
		{"again", func() error { return looks("a", fails) }, nil, 2},
		{"another day", func() error { return looks("b", nil) }, nil, 3},
		{"the first still", func() error { return looks("a", nil) }, nil, 3},
		{"in one that writes", func() error { return writes(ask("a", nil)) }, nil, 4},
		{"and is given up", func() error { return writes(func(tx *ledger.Tx) error { return errors.Join(found(tx), fails) }) }, fails, 4},
		{"nothing was written", func() error { return looks("a", nil) }, nil, 4},
		{"written", func() error { return writes(found) }, nil, 4},
		{"anew", func() error { return looks("a", nil) }, nil, 5},
		{"a third", func() error { return looks("c", nil) }, nil, 6},
		{"the oldest is let go", func() error { return looks("a", nil) }, nil, 7},
	} {
		if err := step.do(); !errors.Is(err, step.ends) || made != step.made {
			t.Fatalf("%s: made %d times, want %d; %v", step.what, made, step.made, err)
		}
	}
}
