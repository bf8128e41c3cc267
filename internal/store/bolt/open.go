// Package bolt is a store in one file, by the B+tree library bbolt. One process at a time has it open; one transaction
// at a time writes, any number read beside it.
package bolt

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync/atomic"
	"syscall"
	"time"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"gritward/internal/store"
)

// DefaultLockTimeout is for how long Open waits for another process to let go of the file.
const DefaultLockTimeout = 3 * time.Second

const (
	// mapBytes of address space are reserved at once. bbolt moves its map when the file outgrows it, and the writer
	// that makes it do so waits until nobody reads; below this size no writer ever waits for a reader.
	mapBytes = 256 << 20
	// growBytes is by how much the file grows at a time. bbolt's own 16 MiB is more than most clubs ever fill.
	growBytes = 1 << 20
)

// Options says which file to open and how.
type Options struct {
	// Path is the file. It is made, readable by its owner only, when it is not there; its folder must be there.
	Path string
	// LockTimeout is for how long to wait while another process has the file open; 0 means DefaultLockTimeout.
	LockTimeout time.Duration
	// Now is the clock, for the times at which a store is made and a backup taken.
	Now func() time.Time
	// ReadOnly opens a file that must be there, and writes nothing to it. Many processes may have it open so at once,
	// but none that writes. A damaged page is an error of the transaction that comes upon it. Of a file with an older
	// schema number a copy is read that was taken to the newest, in the system's folder for temporary files.
	ReadOnly bool
	// AsIs reads a file with an older schema number as it is, for a backup: nothing else can be done with the store. It goes with
	// ReadOnly.
	AsIs bool
	// Suspect looks at every page of the file before any is trusted, for a file that may be damaged in any way or come from
	// anywhere. The error is a *PagesError where there is something wrong. Progress is told how many bytes were looked at; it
	// may be nil.
	Suspect  bool
	Progress func(done, total int64)
	// Tell says to a person what takes long: that a store is taken to a newer schema number. It may be nil.
	Tell func(text string)
	// WaitingLimit is how many transactions may wait to write, beyond which store.ErrBusy refuses; 0 means
	// DefaultWaitingLimit.
	WaitingLimit int
	// Observer hears how the store does.
	Observer store.Observer
	// steps are steps(), but for tests.
	steps []schemaStep
	// openFile is os.OpenFile, but for tests.
	openFile func(path string, flag int, mode os.FileMode) (*os.File, error)
	// openJournal and syncData are for the journal, but for tests os.OpenFile and syncData.
	openJournal func(path string, flag int, mode os.FileMode) (*os.File, error)
	syncData    func(*os.File) error
	// copied are the files of which copies are read: they stay open until the store is closed, so that nobody writes to them meanwhile.
	copied *[]*bbolt.DB
}

// wasCopied is told of a file in the place of which a copy is used from now on.
func (options Options) wasCopied(db *bbolt.DB) error {
	if !options.ReadOnly {
		return db.Close()
	}
	*options.copied = append(*options.copied, db)
	return nil
}

// closeAll closes files.
func closeAll(all []*bbolt.DB) (err error) {
	for _, db := range all {
		err = errors.Join(err, db.Close())
	}
	return err
}

// Open opens the store in a file, or makes a new one. The error is a *store.LockedError when another process has it
// open. An empty file is refused, since it may be what is left of a store.
func Open(options Options) (*Store, error) {
	if options.Path == "" || options.Now == nil {
		return nil, errors.New("store: Options needs Path and Now")
	}
	options = options.complete()
	if info, err := os.Stat(options.Path); err == nil {
		switch {
		case info.IsDir():
			return nil, fmt.Errorf("store: %s is a folder: point --data at a file, such as %s",
				options.Path, filepath.Join(options.Path, "club.db"))
		case !info.Mode().IsRegular():
			return nil, fmt.Errorf("store: %s is not an ordinary file: point --data at one", options.Path)
		case info.Size() == 0:
			return nil, fmt.Errorf("store: %s is empty: delete it to begin a new store, or restore it from a backup", options.Path)
		}
	}
	db, err := openFile(options)
	if err != nil {
		return nil, err
	}
	if !options.ReadOnly {
		if path, err := filepath.EvalSymlinks(options.Path); err == nil {
			_ = os.Remove(path + scrubbing) // of a Scrub that was cut short
			_ = os.Remove(path + migrating)
		}
	}
	db, left, err := takeOver(options, db)
	if err != nil {
		return nil, errors.Join(err, db.Close(), closeAll(*options.copied))
	}
	if !options.AsIs {
		if db, err = newest(options, db); err != nil {
			return nil, errors.Join(err, closeAll(*options.copied))
		}
	}
	return begin(options, db, left)
}

// complete fills in what nobody asked for.
func (options Options) complete() Options {
	if options.LockTimeout <= 0 {
		options.LockTimeout = DefaultLockTimeout // bbolt would wait for ever at 0
	}
	if options.WaitingLimit <= 0 {
		options.WaitingLimit = DefaultWaitingLimit
	}
	if options.openFile == nil {
		options.openFile = os.OpenFile
	}
	options.copied = &[]*bbolt.DB{}
	if options.openJournal == nil {
		options.openJournal = os.OpenFile
	}
	if options.syncData == nil {
		options.syncData = syncData
	}
	if options.steps == nil {
		options.steps = steps()
	}
	return options
}

// begin begins the service of a store whose file has everything but what is left in the journal, nil: nothing.
func begin(options Options, db *bbolt.DB, left *leftOver) (*Store, error) {
	s := &Store{db: db, observer: options.Observer, health: newHealth(), now: options.Now, rename: os.Rename, path: options.Path, readOnly: options.ReadOnly,
		state: &state{}, readers: &atomic.Int64{}, copied: *options.copied}
	var of epochs
	if !options.ReadOnly {
		err := s.safelyTry(func() error { return db.View(func(tx *bbolt.Tx) error { of = epochsOf(tx); return nil }) })
		if err != nil {
			return nil, errors.Join(err, db.Close())
		}
	}
	s.journal = newJournal(options, of)
	s.journal.timer = time.AfterFunc(time.Hour, s.fileNow)
	s.journal.timer.Stop()
	s.queue = newQueue(s, options.WaitingLimit)
	if left != nil {
		s.state = &state{clubs: left.clubs, last: 1}
		s.journal.keep(left.of)
	}
	go s.queue.run()
	return s, nil
}

// newest is the schema number of new stores.
func (o Options) newest() int32 { return int32(len(o.steps)) + 1 }

// guarded runs what reads a file through bbolt's eyes, which trust it: a panic or a memory fault becomes an error.
func guarded(options Options, use func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			err = explain(options, fmt.Errorf("%v", fault))
		}
	}()
	return use()
}

// openFile opens the file that has the store's name once its lock is held. Who waits for the lock has opened the file
// before, and a Scrub may have put another one in its place since: what was written to the old one would be lost.
func openFile(options Options) (*bbolt.DB, error) {
	for until := time.Now().Add(options.LockTimeout); ; {
		db, replaced, err := openOnce(options, max(time.Until(until), 1))
		if err != nil || !replaced {
			return db, err
		}
	}
}

// openOnce opens the file with bbolt, and tells whether another one has its name by now; db is nil then. bbolt trusts what
// it reads: on a damaged file it panics, and on one that was cut short it reads past the end of its map, a memory fault.
// Both become errors here; the process should then end, since what bbolt had mapped and locked may stay so.
func openOnce(options Options, wait time.Duration) (db *bbolt.DB, replaced bool, err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			err = explain(options, fmt.Errorf("%v", fault))
		}
		if (err != nil || replaced) && db != nil {
			db, err = nil, errors.Join(err, db.Close())
		}
	}()
	var file *os.File
	open := func(path string, flag int, mode os.FileMode) (_ *os.File, err error) {
		file, err = options.openFile(path, flag, mode)
		return file, err
	}
	db, err = bbolt.Open(options.Path, 0o600, &bbolt.Options{Timeout: wait, InitialMmapSize: mapBytes, ReadOnly: options.ReadOnly, OpenFile: open})
	if err != nil {
		return nil, false, explain(options, err)
	}
	if replaced, err = isReplaced(file, options.Path); err != nil || replaced {
		return db, replaced, err
	}
	db.AllocSize = growBytes
	if err := checkLength(db); err != nil {
		return db, false, explain(options, err)
	}
	if err := checkFirstPages(options.Path, file, db.Info().PageSize); err != nil {
		return db, false, err
	}
	if options.Suspect {
		if err := suspect(file, options); err != nil {
			return db, false, err
		}
	}
	if err := checkSchema(db, options); err != nil || options.ReadOnly {
		return db, false, err
	}
	if seal, err := ReadSeal(file); err == nil { // a backup was put in place by hand: its seal would soon be wrong
		return db, false, file.Truncate(seal.Bytes)
	}
	return db, false, nil
}

// suspect looks at every page of a file that is locked against others.
func suspect(file *os.File, options Options) error {
	info, err := file.Stat()
	if err != nil {
		return explain(options, err)
	}
	if problems := checkPages(file, info.Size(), options.Progress); problems != nil {
		return &PagesError{Path: options.Path, Problems: problems}
	}
	return nil
}

// isReplaced tells whether another file than the one that was opened has its name. With the lock on the one that has it, it
// stays so: only who holds that lock scrubs.
func isReplaced(file *os.File, path string) (bool, error) {
	opened, err := file.Stat()
	if err != nil {
		return false, fmt.Errorf("store: %s cannot be looked at: %w", path, err)
	}
	named, err := os.Stat(path)
	if err != nil {
		return false, fmt.Errorf("store: %s was taken away while it was being opened (%w): put it back, or point --data elsewhere", path, err)
	}
	return !os.SameFile(opened, named), nil
}

// checkLength refuses a file that is shorter than the pages in use.
func checkLength(db *bbolt.DB) error {
	return db.View(func(tx *bbolt.Tx) error {
		info, err := os.Stat(db.Path())
		if err == nil && info.Size() < tx.Size() {
			err = fmt.Errorf("cut short: %d of %d bytes", info.Size(), tx.Size())
		}
		return err
	})
}

// explain says what to do about a file that cannot be opened.
func explain(options Options, err error) error {
	var system syscall.Errno
	switch {
	case errors.Is(err, berrors.ErrTimeout):
		return &store.LockedError{Path: options.Path, Waited: options.LockTimeout}
	case errors.Is(err, fs.ErrNotExist) && options.ReadOnly:
		return fmt.Errorf("store: there is no file %s: point --data at the store", options.Path)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("store: the folder %s does not exist: make it, or point --data elsewhere", filepath.Dir(options.Path))
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("store: %s: this user may not read and write it (%w): change its owner or rights, or point --data elsewhere", options.Path, err)
	case errors.As(err, &system):
		return fmt.Errorf("store: %s cannot be opened (%w): put that right, or point --data elsewhere", options.Path, err)
	}
	return fmt.Errorf("store: %s is not a store, or is damaged (%w): restore it from a backup, or point --data elsewhere", options.Path, err)
}
