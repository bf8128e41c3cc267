package bolt

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"go.etcd.io/bbolt"
)

// epochedSchema is the first schema number with epochs.
const epochedSchema = 4

// leftOver is what stands in a journal and could not be brought into the file, which is of this epoch or the next.
type leftOver struct {
	clubs map[string]*sorted
	of    epoch
}

// takeOver brings into a file that was opened what stands in the journal beside it, when the process before was not closed: its
// machine lost power, or it was killed. Who only reads is given a copy that has it. What a full disk has no room for is left: it is
// served as it was before, from memory, and stays in the journal.
func takeOver(options Options, db *bbolt.DB) (_ *bbolt.DB, left *leftOver, err error) {
	path, err := filepath.EvalSymlinks(options.Path)
	if err != nil {
		return db, nil, explain(options, err)
	}
	data, err := readJournal(path + journalName)
	if err != nil || len(data) == 0 {
		return db, nil, err
	}
	of, err := openedEpochs(options, db)
	if err != nil {
		return db, nil, err
	}
	clubs, err := of.read(data)
	switch {
	case errors.Is(err, errJournalForeign):
		return db, nil, fmt.Errorf("store: %s has changes in it that are not in %s, and cannot be brought there: %w. If the file was put there from a backup by hand, "+
			"move the journal away and start again; else put the file back beside which it lay", path+journalName, options.Path, err)
	case err != nil:
		return db, nil, fmt.Errorf("store: %s, in which the last changes stand that are not in %s yet, is damaged: %w. Keep a copy of both; then move the journal away and "+
			"start again without these changes, or restore a backup", path+journalName, options.Path, err)
	}
	if len(clubs) > 0 {
		if options.ReadOnly {
			whole := db
			if db, err = nameless(whole); err != nil {
				return whole, nil, fmt.Errorf("store: %s cannot be copied, to read what its journal has, too: %w", options.Path, err)
			}
			if err := options.wasCopied(whole); err != nil {
				return db, nil, err
			}
		}
		var brought error
		if err := guarded(options, func() error { brought = bringOver(db, of, clubs); return nil }); err != nil {
			return db, nil, err
		}
		if number, err := schemaOf(db); brought != nil && err == nil && number == options.newest() && !options.ReadOnly {
			return db, &leftOver{clubs: clubs, of: of.now}, nil
		}
		if brought != nil {
			return db, nil, fmt.Errorf("store: what stands in %s could not be brought into %s: %w: look at the disk's space and health, and try again",
				path+journalName, options.Path, brought)
		}
	}
	if options.ReadOnly {
		return db, nil, nil
	}
	return db, nil, takeAway(path + journalName)
}

// readJournal gives nothing where there is no journal.
func readJournal(path string) ([]byte, error) {
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("store: the journal cannot be opened: %w: put that right, since the last changes may stand in it alone", err)
	}
	data, err := io.ReadAll(io.LimitReader(file, journalBytes))
	if err = errors.Join(err, file.Close()); err != nil {
		return nil, fmt.Errorf("store: the journal %s cannot be read: %w: the last changes may stand in it alone", path, err)
	}
	return data, nil
}

// openedEpochs are those of a file that may be from before there were any: then no journal is its own.
func openedEpochs(options Options, db *bbolt.DB) (of epochs, err error) {
	number, err := schemaOf(db)
	if err != nil || number < epochedSchema {
		return of, err
	}
	return of, guarded(options, func() error {
		return db.View(func(tx *bbolt.Tx) error { of = epochsOf(tx); return nil })
	})
}

// bringOver brings what a journal has into the file, and has it leave its epoch.
func bringOver(db *bbolt.DB, of epochs, clubs map[string]*sorted) error {
	return db.Update(func(tx *bbolt.Tx) error {
		if err := applyAll(tx, clubs); err != nil {
			return err
		}
		return writeEpochs(tx, epochs{now: newEpoch(), before: of.now})
	})
}

// takeAway takes a journal off the disk, all of which is in the file. Emptied it is no journal, though its name should come back.
func takeAway(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err == nil {
		err = errors.Join(file.Truncate(0), file.Sync(), file.Close(), os.Remove(path))
	}
	if err != nil {
		return fmt.Errorf("store: the journal cannot be begun anew: %w: see that this user may write it, and start again", err)
	}
	return nil
}

// nameless copies a file into one in the system's folder for temporary files that has no name: it is gone when it is closed, or the
// process ends.
func nameless(from *bbolt.DB) (*bbolt.DB, error) {
	file, err := os.CreateTemp("", "gritward-*.copy")
	if err != nil {
		return nil, err
	}
	if err := file.Close(); err != nil {
		return nil, err
	}
	fresh, err := copyTo(file.Name(), from)
	if err != nil {
		return nil, err
	}
	if err := os.Remove(file.Name()); err != nil {
		return nil, errors.Join(err, fresh.Close())
	}
	return fresh, nil
}
