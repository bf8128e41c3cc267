package bolt_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/store/storetest"
)

// madeAt is the time at which every store of these tests is made.
func madeAt() time.Time { return time.Date(2031, 11, 8, 9, 30, 0, 0, time.UTC) }

func TestConformance(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	storetest.Run(t, func(t *testing.T) store.Store {
		path := filepath.Join(folder, strings.ReplaceAll(t.Name(), "/", "_")+".db")
		if _, err := os.Stat(path); err != nil {
			t.Cleanup(func() { checkFile(t, path) }) // runs after all closing
		}
		s := opened(t, path)
		t.Cleanup(func() {
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		})
		return s
	})
}

func opened(t testing.TB, path string) *bolt.Store {
	t.Helper()
	s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// direct opens a store without a journal: each batch is a commit to the file.
func direct(t testing.TB, path string) *bolt.Store {
	t.Helper()
	options := bolt.Options{Path: path, Now: madeAt}
	options.WithoutJournal()
	s, err := bolt.Open(options)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// checkFile lets bbolt check every page of a file.
func checkFile(t testing.TB, path string) {
	t.Helper()
	bare(t, path, func(tx *bbolt.Tx) error {
		for err := range tx.Check() {
			t.Errorf("%s: %v", path, err)
		}
		return nil
	})
}

// bare opens the file with bbolt alone, for a transaction that may write.
func bare(t testing.TB, path string, use func(*bbolt.Tx) error) {
	t.Helper()
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Update(use); err != nil {
		t.Error(err)
	}
	if err := db.Close(); err != nil {
		t.Error(err)
	}
}

// put writes one value.
func put(s store.Store, key string, value []byte) error {
	return s.Update(context.Background(), "moor", func(tx store.Tx) error { return tx.Put(key, value) })
}

// get reads one value.
func get(s store.Store, key string) (value []byte, err error) {
	err = s.View(context.Background(), "moor", func(tx store.Tx) error {
		value, err = tx.Get(key)
		return err
	})
	return value, err
}
