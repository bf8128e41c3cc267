//go:build !etcd

package enginetest

import (
	"errors"
	"io/fs"
	"os"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// Many says that several servers may have a store open at once.
const Many = false

// Open makes a new store for a test, in a file where that is the engine. Whoever opens it closes it.
func Open(t testing.TB, path string, now func() time.Time) store.Store {
	t.Helper()
	s, err := bolt.Open(bolt.Options{Path: path, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Raw is what the engine keeps of a store, byte by byte: in its file, and in the journal beside it.
func Raw(t testing.TB, _ store.Store, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	journal, err := os.ReadFile(path + ".journal")
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return append(data, journal...)
}
