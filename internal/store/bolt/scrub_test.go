package bolt_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// secretWord is in what is deleted before a Scrub.
const secretWord = "Ada Fell, 01632 960 111"

// written fills a store, and deletes every other record, with the secret word in them, again.
func written(t testing.TB, s *bolt.Store) {
	t.Helper()
	for i := range 30 {
		if err := errors.Join(put(s, fmt.Sprintf("gone%02d", i), []byte(strings.Repeat(secretWord+" ", 40))),
			put(s, fmt.Sprintf("kept%02d", i), []byte(fmt.Sprint("kept ", i)))); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.FileNow(t.Context()); err != nil {
		t.Fatal(err)
	}
	err := s.Update(t.Context(), "moor", func(tx store.Tx) (err error) {
		for i := 0; i < 30 && err == nil; i++ {
			err = tx.Delete(fmt.Sprintf("gone%02d", i))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// kept holds that the records that were not deleted are there.
func kept(t testing.TB, s *bolt.Store) {
	t.Helper()
	for i := range 30 {
		if value, err := get(s, fmt.Sprintf("kept%02d", i)); err != nil || string(value) != fmt.Sprint("kept ", i) {
			t.Fatalf("record %d: %q, %v", i, value, err)
		}
	}
}

func holdsSecret(t testing.TB, path string) bool {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return bytes.Contains(data, []byte("Ada Fell"))
}

// alone tells whether nothing lies beside the store.
func alone(t testing.TB, path string) {
	t.Helper()
	if files, err := os.ReadDir(filepath.Dir(path)); err != nil || len(files) != 1 {
		t.Errorf("%v lie beside the store: %v", files, err)
	}
}

func TestScrub(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := opened(t, path)
	written(t, s)
	if !holdsSecret(t, path) {
		t.Fatal("what was deleted is gone without a Scrub: this test shows nothing")
	}
	var readers sync.WaitGroup
	for range 4 { // reading and writing go on beside it
		readers.Go(func() {
			for i := range 50 {
				if _, err := get(s, "kept00"); err != nil {
					t.Error(err)
				}
				if err := put(s, fmt.Sprintf("more%d", i), []byte("x")); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for range 3 {
		if err := s.Scrub(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	readers.Wait()
	if holdsSecret(t, path) || holdsSecret(t, path+".journal") {
		t.Error("what was deleted lies in the file still, or in the journal")
	}
	kept(t, s)
	if _, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, LockTimeout: 1}); err == nil {
		t.Error("the new file is not locked")
	}
	if err := put(s, "after", []byte("1")); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if err := s.Scrub(t.Context()); err == nil {
		t.Error("a closed store was scrubbed")
	}
	alone(t, path)
	checkFile(t, path)
	again := opened(t, path)
	kept(t, again)
	if value, err := get(again, "after"); err != nil || string(value) != "1" {
		t.Errorf("written after the Scrub: %q, %v", value, err)
	}
	_ = again.Close()
}

// TestScrubRenameFails: the old file stays in its place and in use.
func TestScrubRenameFails(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := direct(t, path)
	written(t, s)
	s.SetRename(func(string, string) error { return syscall.EACCES })
	if err := s.Scrub(t.Context()); !errors.Is(err, syscall.EACCES) || !strings.Contains(err.Error(), "look at the folder's rights") {
		t.Error(err)
	}
	alone(t, path)
	if err := put(s, "after", []byte("1")); err != nil {
		t.Error(err)
	}
	s.SetRename(os.Rename)
	if err := s.Scrub(t.Context()); err != nil || holdsSecret(t, path) {
		t.Error("the second time:", err)
	}
	kept(t, s)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestScrubKilled kills a process before and after the new file takes the place of the old one.
func TestScrubKilled(t *testing.T) {
	for _, job := range []string{"scrub-before", "scrub-after"} {
		t.Run(job, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "club.db")
			s := opened(t, path)
			written(t, s)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			dying := start(t, job, path)
			for dying.said.Scan() {
			}
			_ = dying.Wait() // "signal: killed"
			if got, want := holdsSecret(t, path), job == "scrub-before"; got != want {
				t.Errorf("what was deleted is there: %t, want %t", got, want)
			}
			again := opened(t, path)
			kept(t, again)
			if err := again.Scrub(t.Context()); err != nil || holdsSecret(t, path) {
				t.Error("called again:", err)
			}
			kept(t, again)
			if err := again.Close(); err != nil {
				t.Error(err)
			}
			alone(t, path)
			checkFile(t, path)
		})
	}
}

// dieBefore and dieAfter end the process at the rename of a Scrub.
func dieBefore(s *bolt.Store) error { return dying(s, func(string, string) error { return nil }) }
func dieAfter(s *bolt.Store) error  { return dying(s, os.Rename) }

func dying(s *bolt.Store, rename func(from, to string) error) error {
	fmt.Println("scrubbing")
	s.SetRename(func(from, to string) error {
		err := rename(from, to)
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		return err
	})
	return s.Scrub(context.Background())
}
