package bolt_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gritward/internal/store/bolt"
)

// TestBackupBesideJournal: what was written after a backup is not taken over into it where it is put in the place of the store by hand, beside the
// journal of a server that was killed: the rest of what came between is in the store's file alone.
func TestBackupBesideJournal(t *testing.T) {
	for _, first := range []string{"stands in the journal when the backup is taken", "is in the file by then"} {
		path := filepath.Join(t.TempDir(), "club.db")
		s := standing(t, path, 2, 3)
		if first == "is in the file by then" {
			if err := s.FileNow(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		backup := filepath.Join(t.TempDir(), "a.backup")
		to, err := os.Create(backup)
		if err := errors.Join(err, s.Backup(t.Context(), to, func(int64) {}), to.Close()); err != nil {
			t.Fatal(err)
		}
		if err := put(s, "large", make([]byte, 2<<20)); err != nil { // it goes into the file
			t.Fatal(err)
		}
		if err := put(s, "small", []byte("written upon it")); err != nil {
			t.Fatal(err)
		}
		left := besides(t, path)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(backup, left); err != nil {
			t.Fatal(err)
		}
		again, err := bolt.Open(bolt.Options{Path: left, Now: madeAt})
		if err == nil {
			value, err := get(again, "small")
			t.Errorf("%s: the journal was taken over into the backup: %q, %v, %v", first, value, err, again.Close())
		} else if !strings.Contains(err.Error(), "from a backup by hand") {
			t.Errorf("%s: %v", first, err)
		}
		if err := os.Remove(left + ".journal"); err != nil {
			t.Fatal(err)
		}
		again = opened(t, left)
		holds(t, "with the journal away", again, 3)
		if err := again.Close(); err != nil {
			t.Error(err)
		}
	}
}
