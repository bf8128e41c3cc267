package bolt

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
)

const (
	// scrubbing ends the name of the file that Scrub writes; beside the store until it takes its place.
	scrubbing = ".scrub"
	// scrubBytes are copied in one transaction.
	scrubBytes = 4 << 20
)

// Scrub implements store.Store. bbolt leaves the bytes of what was deleted in pages that it will use again some day, so
// what is there is copied into a new file, which then takes the place of the old one. Both are locked against other
// processes all the while. At every step one of the two stands whole under the store's name.
func (s *Store) Scrub(ctx context.Context) error {
	if s.readOnly {
		return store.ErrReadOnly
	}
	var old *bbolt.DB
	err := s.alone(ctx, func() error {
		if err := s.sound(); err != nil {
			return err
		}
		if err := s.fileAll(); err != nil {
			return err
		}
		if err := s.safelyTry(func() (err error) { old, err = s.replace(); return err }); err != nil {
			return err
		}
		return s.journal.forget()
	})
	if old != nil {
		err = errors.Join(err, old.Close()) // waits for those who read it
	}
	return err
}

// replace puts a copy of the store in its place, and gives the file that it was; nil when it still is.
func (s *Store) replace() (old *bbolt.DB, err error) {
	path, err := filepath.EvalSymlinks(s.path) // the file itself, not a link to it
	if err != nil {
		return nil, fmt.Errorf("store: %s is not where it was: %w", s.path, err)
	}
	fresh, err := copyTo(path+scrubbing, s.db)
	if err != nil {
		return nil, fmt.Errorf("store: %s could not be rewritten: %w: look at the disk's space and health", s.path, err)
	}
	if err := s.rename(path+scrubbing, path); err != nil {
		return nil, errors.Join(fmt.Errorf("store: the rewritten %s could not take its place: %w: look at the folder's rights", s.path, err),
			fresh.Close(), os.Remove(path+scrubbing))
	}
	s.swap.Lock()
	old, s.db = s.db, fresh
	s.scrubs++
	s.swap.Unlock()
	if err := syncFolder(filepath.Dir(path)); err != nil {
		return old, fmt.Errorf("store: %s was rewritten, but after a loss of power the old file may be there again: %w", s.path, err)
	}
	return old, nil
}

// copyTo copies what a store keeps into a new file, down to the disk.
func copyTo(path string, from *bbolt.DB) (fresh *bbolt.DB, err error) {
	_ = os.Remove(path)
	fresh, err = bbolt.Open(path, 0o600, &bbolt.Options{Timeout: DefaultLockTimeout, InitialMmapSize: mapBytes})
	if err == nil {
		fresh.AllocSize = growBytes
		if err = bbolt.Compact(fresh, from, scrubBytes); err == nil {
			err = fresh.Sync()
		}
	}
	if err == nil {
		return fresh, nil
	}
	if fresh != nil {
		err = errors.Join(err, fresh.Close(), os.Remove(path))
	}
	return nil, err
}

// syncFolder brings the names of a folder's files down to the disk.
func syncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}
