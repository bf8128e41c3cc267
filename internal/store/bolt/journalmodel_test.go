package bolt_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// TestJournalModel writes at random, brings into the file at random, rewrites the file and opens it anew, and looks at random at what a loss of power
// would leave: it is always what was written, and sound.
func TestJournalModel(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := opened(t, path)
	model := map[string]string{}
	same := func(rt *rapid.T, s *bolt.Store) {
		got := map[string]string{}
		err := s.View(context.Background(), "moor", func(tx store.Tx) error {
			return tx.Scan("", "", func(key string, value []byte) (bool, error) { got[key] = string(value); return true, nil })
		})
		if err != nil || !maps.Equal(got, model) {
			rt.Fatalf("%q, %v, want %q", got, err, model)
		}
	}
	must := func(rt *rapid.T, err error) {
		if err != nil {
			rt.Fatal(err)
		}
	}
	rapid.Check(t, func(rt *rapid.T) {
		rt.Repeat(map[string]func(*rapid.T){
			"write": func(rt *rapid.T) {
				after := maps.Clone(model)
				must(rt, s.Update(context.Background(), "moor", func(tx store.Tx) (err error) {
					for range rapid.IntRange(1, 6).Draw(rt, "keys") {
						key := fmt.Sprint(rapid.IntRange(0, 25).Draw(rt, "key"))
						if rapid.IntRange(0, 2).Draw(rt, "delete") == 0 {
							delete(after, key)
							err = errors.Join(err, tx.Delete(key))
						} else {
							after[key] = fmt.Sprint(rapid.IntRange(0, 1000).Draw(rt, "value"))
							err = errors.Join(err, tx.Put(key, []byte(after[key])))
						}
					}
					return err
				}))
				model = after
			},
			"file":  func(rt *rapid.T) { must(rt, s.FileNow(context.Background())) },
			"scrub": func(rt *rapid.T) { must(rt, s.Scrub(context.Background())) },
			"reopen": func(rt *rapid.T) {
				must(rt, s.Close())
				s = opened(t, path)
			},
			"lose power": func(rt *rapid.T) {
				must(rt, s.Update(context.Background(), "moor", func(tx store.Tx) error { model["x"] = "x"; return tx.Put("x", []byte("x")) }))
				left := opened(t, besides(t, path))
				same(rt, left)
				must(rt, errors.Join(left.Verify(context.Background(), nil), left.Close()))
			},
			"": func(rt *rapid.T) { same(rt, s) },
		})
	})
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	checkFile(t, path)
}
