package bolt

import (
	"errors"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"go.etcd.io/bbolt"
)

const (
	// journalName ends the name of the journal; it lies beside the store's file.
	journalName = ".journal"
	// journalBytes is how much goes into it before it is brought into the file. It is what a start after a loss of power has to take over
	// at the most, and one commit's writes.
	journalBytes = 1 << 20
	// fileAfter is for how long something may stand in the journal alone.
	fileAfter = 250 * time.Millisecond
)

// journal is a file beside the store's in which a batch stands before it is in the store's file: to append to it takes one wait for the
// disk where a commit of bbolt's takes two, and a fraction of the pages. Now and then all that it has is brought into the
// file in one commit, and it is begun anew. It is of one writer: who settles a batch, or has the store alone.
//
// Its records belong to one state of the file, by a number that the file has in it (its epoch), and that the commit changes which
// brings them into the file. So they are never taken over twice, nor into another file.
type journal struct {
	path string
	// open is os.OpenFile, and syncData brings a file's bytes to the disk, but for tests.
	open     func(path string, flag int, mode os.FileMode) (*os.File, error)
	syncData func(*os.File) error
	// file is nil before there is something to write, and where it cannot be made.
	file *os.File
	// epoch is that of the store's file; next is what it is to become with the commit under way; before is the last one of which records
	// may stand here.
	epoch, next, before epoch
	// at is where the next record goes; 0: there is none since the file was written.
	at int64
	// used: something may stand in it that belongs to epoch.
	used bool
	// off: it can be written no more, until the next time the store is opened.
	off bool
	// stopped: a commit failed. What stands in the journal must stay until one succeeds, since the failed one may be in the file or not.
	stopped bool
	// due: the next batch is to go into the file.
	due   atomic.Bool
	timer *time.Timer
	// buffer is used again.
	buffer []byte
}

// JournalOf is the path of the journal that belongs to a store's file.
func JournalOf(path string) string { return path + journalName }

// newJournal is that of a file in an epoch; nothing stands in it.
func newJournal(options Options, of epochs) *journal {
	path, err := filepath.EvalSymlinks(options.Path) // beside the file itself, not beside a link to it
	return &journal{path: path + journalName, open: options.openJournal, syncData: options.syncData, epoch: of.now, before: of.before, off: options.ReadOnly || err != nil}
}

// add appends what a batch wrote, down to the disk, and tells whether it stands there. Where it does not, the batch must go into
// the file, with all that stands in the journal.
func (j *journal) add(own map[string]*sorted) bool {
	if j.off || j.stopped || j.due.Load() {
		return false
	}
	j.buffer = j.buffer[:0]
	if j.at == 0 {
		j.buffer = j.epoch.appendHeader(j.buffer)
	}
	j.buffer = j.epoch.appendRecord(j.buffer, j.at, own)
	end := j.at + int64(len(j.buffer))
	if end > journalBytes || j.begin() != nil {
		return false
	}
	j.used = true
	_, err := j.file.WriteAt(j.buffer, j.at)
	if err = errors.Join(err, j.sync(err)); err != nil {
		if j.at == 0 && j.forget() == nil { // perhaps nothing was written, and what stands there is from two states before
			j.used = false
		}
		return false
	}
	if j.at == 0 {
		j.timer.Reset(fileAfter)
	}
	j.at = end
	return true
}

func (j *journal) sync(err error) error {
	if err != nil {
		return nil //nolint:nilerr // it is told by who called
	}
	return j.syncData(j.file)
}

// begin makes the file. Where that fails the store does without.
func (j *journal) begin() (err error) {
	if j.file != nil {
		return nil
	}
	if j.file, err = j.open(j.path, os.O_RDWR|os.O_CREATE, 0o600); err == nil {
		err = syncFolder(filepath.Dir(j.path))
	}
	j.off = err != nil
	return err
}

// renew has the file leave its epoch, with each commit: also with one for which nothing stood in the journal, or what stands there later would
// seem to belong to the file as it was before, such as a backup.
func (j *journal) renew(under *bbolt.Tx) error {
	j.next = newEpoch()
	return writeEpochs(under, epochs{now: j.next, before: j.last()})
}

// last is the last epoch of which records may stand in the journal once the file has left its own.
func (j *journal) last() epoch {
	if j.used {
		return j.epoch
	}
	return j.before
}

// filed is told that all of the journal is in the file.
func (j *journal) filed() {
	j.before = j.last()
	j.epoch, j.at, j.used, j.stopped = j.next, 0, false, false
	j.due.Store(false)
	j.timer.Stop()
}

// keep is told that what stands in it could not be brought into the file when it was opened.
func (j *journal) keep(of epoch) {
	_ = j.begin()
	j.epoch, j.used, j.stopped = of, true, true
	j.timer.Reset(fileAfter)
}

// stop is told that a commit failed.
func (j *journal) stop() { j.stopped = true }

// forget takes what stood in the journal off the disk, once all of it is in the file.
func (j *journal) forget() error {
	if j.file == nil {
		return nil
	}
	return errors.Join(j.file.Truncate(0), j.file.Sync())
}

// end takes the journal away, once all of it is in the file. It does not matter if that comes to nothing: its records are of an
// epoch that the file has left.
func (j *journal) end() error {
	if j.file == nil {
		return nil
	}
	err := errors.Join(j.file.Close(), os.Remove(j.path))
	j.file, j.off = nil, true
	return err
}
