package bolt

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync/atomic"
	"time"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
)

// state is what was written, stands in the journal, and is not in the file yet.
type state struct {
	// clubs has it by club; of one that is not there the file has all.
	clubs map[string]*sorted
	// last is the number of the last batch that is in the file or the journal, filed that of the last in the file.
	last, filed uint64
	// number is how many states there were before.
	number uint64
	// coming is what is to be seen by those who read the file as the commit under way leaves it, which has the number comes; nil: there is
	// none. Who begins to read may find the file so before the commit has come to its end.
	coming *state
	comes  int
}

// seen is the state of now.
func (s *Store) seen() *state {
	s.swap.RLock()
	defer s.swap.RUnlock()
	return s.state
}

// show has those who begin to read from now on see another state.
func (s *Store) show(next state) {
	s.swap.Lock()
	defer s.swap.Unlock()
	next.number = s.state.number + 1
	s.state = &next
}

// announce is for a commit that is about to be made.
func (s *Store) announce(next *state, comes int) {
	s.swap.Lock()
	defer s.swap.Unlock()
	now := *s.state
	now.coming, now.comes = next, comes
	s.state = &now
}

// over is what is to be seen over a state of the file.
func (t *state) over(under *bbolt.Tx) *state {
	if t.coming != nil && under.ID() >= t.comes {
		return t.coming
	}
	return t
}

// with is a state with a batch on top.
func (t *state) with(b *batch) *state {
	clubs := make(map[string]*sorted, len(t.clubs)+len(b.clubs))
	maps.Copy(clubs, t.clubs)
	for club, p := range b.clubs {
		clubs[club] = p.writes
	}
	return &state{clubs: clubs, last: b.number, filed: t.filed}
}

// bring brings a batch to the disk: into the journal, which is quick; or into the file, with all that stands in the journal, when
// that is full, or has waited long.
func (s *Store) bring(b *batch, own map[string]*sorted) error {
	if err := s.sound(); err != nil {
		return err
	}
	next := s.seen().with(b)
	if !s.journal.add(own) {
		return s.file(next)
	}
	s.show(*next)
	return nil
}

// fileNow is for when something has stood in the journal for some time. Where somebody writes, the next batch is brought into the file
// itself: nobody waits then for this alone.
func (s *Store) fileNow() {
	if !s.queue.isIdle() {
		s.journal.due.Store(true)
		s.journal.timer.Reset(fileAfter)
		return
	}
	began := time.Now()
	err := s.alone(context.Background(), s.fileAll) // who writes next is told what is wrong, too
	if heard := s.observer.Committed; heard != nil && err != nil && !errors.Is(err, store.ErrClosed) {
		heard(time.Since(began), 0, err)
	}
}

// fileAll brings everything into the file that is not there, while nobody writes.
func (s *Store) fileAll() error {
	err := s.file(s.seen())
	if err != nil && s.sound() == nil {
		return fmt.Errorf("store: what stands in %s could not be brought into %s: %w: look at the disk's space and health", s.journal.path, s.path, err)
	}
	return err
}

// file brings a state into the file, in one commit.
func (s *Store) file(next *state) error {
	if next.last == next.filed {
		return nil
	}
	began := s.seen()
	if number, err := s.commit(next); err != nil {
		s.journal.stop()
		if s.sound() != nil { // nobody reads any more, and who began to may be stuck, and keep the locks
			return err
		}
		if s.isInFile(number) { // all of it, then: the older ones in the journal are not to be seen over it
			began = next
			s.part()
		}
		s.show(*began)
		return err
	}
	s.journal.filed()
	s.show(state{last: next.last, filed: next.last})
	return nil
}

// isInFile tells whether a commit that failed is in the file all the same: its first page was written, but perhaps did not reach the disk.
func (s *Store) isInFile(number int) bool {
	if number == 0 {
		return false
	}
	under, err := s.beginUnder(false)
	if err != nil {
		return false
	}
	defer func() { _ = under.Rollback() }()
	return under.ID() >= number
}

// part parts those who read by now from those who will.
func (s *Store) part() {
	s.swap.Lock()
	defer s.swap.Unlock()
	s.before, s.readers = s.readers, &atomic.Int64{}
}

// resume is for the next commit after one that failed and is in the file all the same. bbolt takes the pages for free then that the one before
// leaves: they may be written over when that has reached the disk, and nobody reads them any more.
func (s *Store) resume() error {
	if s.before == nil {
		return nil
	}
	if s.before.Load() > 0 {
		return errors.New("after a commit that failed somebody still reads what was there before: try again when that has ended")
	}
	if err := s.db.Sync(); err != nil {
		return err
	}
	s.before = nil
	return nil
}

// commit gives its number, too; 0: it was not begun.
func (s *Store) commit(next *state) (number int, err error) {
	if err := s.resume(); err != nil {
		return 0, err
	}
	under, err := s.beginUnder(true)
	if err != nil {
		return 0, err
	}
	number = under.ID()
	put := newFiling(s.journal, next)
	if err = s.safelyTry(func() error { return put.apply(under) }); err == nil {
		s.announce(next, number)
	}
	switch {
	case err != nil:
	case !put.mayRemap(under):
		err = s.safelyTry(under.Commit)
	default:
		ended := make(chan error, 1)
		go func() { ended <- s.safelyTry(under.Commit) }()
		select {
		case err = <-ended:
		case <-s.health.whole.Done(): // bbolt may keep the lock that it waits for, of a reader that came upon the damage
			s.health.stuck.Store(true)
			return number, s.sound()
		}
	}
	if err != nil && s.safely(func() { _ = under.Rollback() }) != nil {
		s.health.stuck.Store(true)
	}
	return number, err
}

// filing brings into the file what of a state is not in it.
type filing struct {
	journal *journal
	clubs   map[string]*sorted
	// records and bytes are how much that is.
	records, bytes int
}

func newFiling(to *journal, next *state) *filing {
	f := &filing{journal: to, clubs: make(map[string]*sorted, len(next.clubs))}
	for club, writes := range next.clubs {
		writes = writes.since(next.filed)
		f.clubs[club] = writes
		for _, c := range writes.chunks {
			f.records += len(c.entries)
			for _, e := range c.entries {
				f.bytes += len(e.key) + len(e.record)
			}
		}
	}
	return f
}

func (f *filing) apply(under *bbolt.Tx) error {
	if err := applyAll(under, f.clubs); err != nil {
		return err
	}
	return f.journal.renew(under)
}

// applyAll puts the writes of clubs into the file's transaction.
func applyAll(under *bbolt.Tx, clubs map[string]*sorted) error {
	for _, club := range slices.Sorted(maps.Keys(clubs)) {
		p := pending{file: keysOf(under, club), writes: clubs[club]}
		if err := p.apply(under); err != nil {
			return err
		}
	}
	return nil
}

// mayRemap tells whether bbolt may need more of the file in memory for the commit than it has, which waits for every reader: one that
// came upon damage never ends. Otherwise a commit waits for nobody.
func (f *filing) mayRemap(under *bbolt.Tx) bool {
	size := under.Size()
	return size+f.room(under) >= mapped(size)
}

// room is by how many bytes the file may grow with the commit, and more: a record is written with the pages above it, some of them
// split, and so is the one before it; then there is the list of free pages.
func (f *filing) room(under *bbolt.Tx) int64 {
	const pages = 16 // of one record, but for its own bytes
	pageSize := int64(under.DB().Info().PageSize)
	return int64(2*f.records*pages)*pageSize + 3*int64(f.bytes) + 16*under.Size()/pageSize + 1<<20
}

// mapped is how much of a file bbolt has in memory at the least, when so much of it is in use: at first what it is told to, later
// always a power of two, from 1 GiB on full gibibytes (mmapSize of bbolt's v1.5.0).
func mapped(size int64) int64 {
	least := int64(mapBytes)
	for least < size {
		least += min(least, 1<<30)
	}
	return least
}
