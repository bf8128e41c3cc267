package bolt_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// TestOpenWhileScrubbed: who has opened the file and waits for its lock while Scrub puts others in its place gets the one
// that is there in the end, or none.
func TestOpenWhileScrubbed(t *testing.T) {
	for _, row := range []struct {
		name              string
		scrubs            int
		closed, readsOnly bool
	}{
		{"then closed", 1, true, false},
		{"then closed, to read", 1, true, true},
		{"three times, then closed", 3, true, false},
		{"held on", 1, false, false},
		{"held on, to read", 1, false, true},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "club.db")
			held := opened(t, path)
			options := bolt.Options{Path: path, Now: madeAt, LockTimeout: 200 * time.Millisecond, ReadOnly: row.readsOnly}
			opens := 0
			options.SetOpenFile(func(path string, flag int, mode os.FileMode) (*os.File, error) {
				file, err := os.OpenFile(path, flag, mode)
				if opens++; opens <= row.scrubs { // bbolt asks for the lock after this, and gets that of the dead file
					err = errors.Join(err, held.Scrub(t.Context()), put(held, fmt.Sprint("written", opens), []byte("1")))
					if row.closed && opens == row.scrubs {
						err = errors.Join(err, held.Close())
					}
				}
				return file, err
			})
			got, err := bolt.Open(options)
			if opens != row.scrubs+1 {
				t.Errorf("opened %d times, want %d: the dead file was not noticed", opens, row.scrubs+1)
			}
			if !row.closed {
				var locked *store.LockedError
				if !errors.As(err, &locked) || locked.Waited != options.LockTimeout {
					t.Errorf("%v, want a LockedError", err)
				}
				if err := held.Close(); err != nil {
					t.Error(err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			for i := range row.scrubs {
				if value, err := get(got, fmt.Sprint("written", i+1)); err != nil || string(value) != "1" {
					t.Errorf("written after Scrub %d: %q, %v", i+1, value, err)
				}
			}
			if !row.readsOnly {
				err = put(got, "last", []byte("2"))
			}
			if err := errors.Join(err, got.Close()); err != nil {
				t.Fatal(err)
			}
			again := opened(t, path)
			if value, err := get(again, "last"); !row.readsOnly && (err != nil || string(value) != "2") {
				t.Errorf("what was written last is lost: %q, %v", value, err)
			}
			if err := again.Close(); err != nil {
				t.Error(err)
			}
		})
	}
}

// TestOpenTakenAway: a file that goes away while it is opened is not begun anew.
func TestOpenTakenAway(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	if err := opened(t, path).Close(); err != nil {
		t.Fatal(err)
	}
	options := bolt.Options{Path: path, Now: madeAt}
	options.SetOpenFile(func(path string, flag int, mode os.FileMode) (*os.File, error) {
		file, err := os.OpenFile(path, flag, mode)
		return file, errors.Join(err, os.Remove(path))
	})
	if _, err := bolt.Open(options); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Error("a new store was begun:", err)
	}
}

// TestScrubThroughLink: the file that a link names is rewritten beside itself, and what a Scrub that was cut short left there
// goes away.
func TestScrubThroughLink(t *testing.T) {
	path, link := filepath.Join(t.TempDir(), "club.db"), filepath.Join(t.TempDir(), "linked.db")
	if err := errors.Join(opened(t, path).Close(), os.Symlink(path, link), os.WriteFile(path+".scrub", []byte("left"), 0o600)); err != nil {
		t.Fatal(err)
	}
	s := opened(t, link)
	alone(t, path)
	written(t, s)
	if err := s.Scrub(t.Context()); err != nil || holdsSecret(t, path) {
		t.Error("what was deleted is there:", err)
	}
	kept(t, s)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	alone(t, path)
	alone(t, link)
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is %v, %v", info, err)
	}
}
