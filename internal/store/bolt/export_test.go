package bolt

import (
	"context"
	"os"
	"reflect"
	"syscall"
	"unsafe"

	"go.etcd.io/bbolt"
)

// SetRename has Scrub rename otherwise.
func (s *Store) SetRename(rename func(from, to string) error) { s.rename = rename }

// SetOpenFile has Open open the file otherwise.
func (o *Options) SetOpenFile(open func(path string, flag int, mode os.FileMode) (*os.File, error)) {
	o.openFile = open
}

// SchemaStep is what AddSteps takes.
type SchemaStep = schemaStep

// AddSteps has Open know later schema numbers.
func (o *Options) AddSteps(more ...SchemaStep) { o.steps = append(steps(), more...) }

// EachValue is eachValue.
var EachValue = eachValue

// CheckPages is checkPages.
var CheckPages = checkPages

// ParseSeal is parseSeal.
var ParseSeal = parseSeal

// Line is the last line of a backup.
func (s Seal) Line() string { return s.line() }

// Commits is the number of the file's last commit.
func (s *Store) Commits() int {
	number := 0
	_ = s.read(func(under *bbolt.Tx, _ *state, _ uint64) error { number = under.ID(); return nil })
	return number
}

// Closed tells whether nobody gets into the line any more.
func (s *Store) Closed() bool {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return s.queue.closed
}

// Writes has every write of bbolt's to the file go through through, which is given bbolt's own, and gives back how to have it as
// before. bbolt has no seam for that: the field is set past the language, and the test that does so panics when a version of
// bbolt has it no more. The store must be idle.
func (s *Store) Writes(through func(to func([]byte, int64) (int, error), data []byte, at int64) (int, error)) (back func()) {
	return writes(s.db, through)
}

func writes(db *bbolt.DB, through func(to func([]byte, int64) (int, error), data []byte, at int64) (int, error)) (back func()) {
	field := reflect.ValueOf(db).Elem().FieldByName("ops").FieldByName("writeAt")
	writeAt := (*func([]byte, int64) (int, error))(unsafe.Pointer(field.UnsafeAddr()))
	was := *writeAt
	*writeAt = func(data []byte, at int64) (int, error) { return through(was, data, at) }
	return func() { *writeAt = was }
}

// SyncTo has bbolt bring another file down to the disk than its own, from within through of Writes. One that cannot be brought
// there, such as a pipe, is a disk that fails.
func (s *Store) SyncTo(other *os.File) (back func()) {
	field := reflect.ValueOf(s.db).Elem().FieldByName("file")
	file := (**os.File)(unsafe.Pointer(field.UnsafeAddr()))
	was := *file
	*file = other
	return func() { *file = was }
}

// WithoutJournal has every batch go into the file itself, as where no journal can be made.
func (o *Options) WithoutJournal() {
	o.openJournal = func(string, int, os.FileMode) (*os.File, error) { return nil, os.ErrPermission }
}

// FileNow brings into the file what stands in the journal.
func (s *Store) FileNow(ctx context.Context) error { return s.alone(ctx, s.fileAll) }

// SyncJournal has what is written into the journal brought to the disk otherwise.
func (o *Options) SyncJournal(through func(*os.File) error) { o.syncData = through }

// TakeOverFails opens a store whose file takes nothing while what stands in the journal is to be brought into it. use is given the store, and
// what has the file take it.
func TakeOverFails(options Options, use func(s *Store, again func())) error {
	options = options.complete()
	db, err := openFile(options)
	if err != nil {
		return err
	}
	again := writes(db, func(func([]byte, int64) (int, error), []byte, int64) (int, error) { return 0, syscall.ENOSPC })
	db, left, err := takeOver(options, db)
	if err != nil {
		return err
	}
	s, err := begin(options, db, left)
	if err != nil {
		return err
	}
	use(s, again)
	return s.Close()
}

// Standing is how many records are kept in memory until the file has them.
func (s *Store) Standing() (n int) {
	for _, writes := range s.seen().clubs {
		n += writes.len()
	}
	return n
}

// FileNext has the next batch go into the file, as when something has stood in the journal for long.
func (s *Store) FileNext() { s.journal.due.Store(true) }

// Damage has a store find that its file is damaged.
func (s *Store) Damage() { _ = s.safely(func() { damaged("a test found it so") }) }
