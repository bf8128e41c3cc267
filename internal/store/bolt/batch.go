package bolt

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
)

const (
	// batchUses is how many transactions are committed together at most,
	batchUses = 1024
	// batchBytes how much they write, about,
	batchBytes = 8 << 20
	// batchTime and for how long they run when the disk is idle: who came first waits for those who share the commit.
	batchTime = 10 * time.Millisecond
)

// batch is a number of transactions that run one after another and are committed together. None of those that wrote, or
// may have seen what another one wrote, is answered before.
type batch struct {
	store *Store
	began time.Time
	// after is the batch that was on its way to the disk when this one began, and whose writes it sees; nil once they are
	// there, or if there was none.
	after *batch
	// clubs are what the transactions wrote, by club.
	clubs map[string]*pending
	uses  int
	bytes int
	wrote bool
	// committed is closed when it has been settled whether the batch is on the disk; failed says why it is not.
	committed chan struct{}
	failed    error
}

func newBatch(s *Store, after *batch) *batch {
	return &batch{store: s, after: after, began: time.Now(), clubs: map[string]*pending{}, committed: make(chan struct{})}
}

// of is what the batch wrote of a club's, over what the one before it wrote.
func (b *batch) of(club string) *pending {
	p := b.clubs[club]
	if p == nil {
		p = &pending{writes: &sorted{}}
		if b.after != nil && b.after.clubs[club] != nil {
			p.writes = b.after.clubs[club].writes.carried()
		}
		b.clubs[club] = p
	}
	return p
}

// shed forgets what the batch before wrote, which is in the file by now.
func (b *batch) shed() {
	if b.after == nil {
		return
	}
	b.after = nil
	for _, p := range b.clubs {
		p.writes = p.writes.own()
	}
}

// doomed tells that the batch before it failed, whose writes were to be seen.
func (b *batch) doomed() bool { return b.after != nil && b.after.failed != nil }

// run runs use, of the goroutine that has the word, and tells what must be on the disk before it is answered; nil: nothing.
func (b *batch) run(ctx context.Context, club string, use func(store.Tx) error) (until *batch, err error) {
	if b.after != nil && b.after.isCommitted() && !b.doomed() { // a doomed batch must not forget what it fails with
		b.shed()
	}
	b.uses++
	err = b.store.read(func(under *bbolt.Tx, _ uint64) error {
		keys := b.of(club)
		if err := b.store.safely(func() { keys.file = keysOf(under, club) }); err != nil {
			return err
		}
		return b.runOn(ctx, keys, use)
	})
	if b.wrote {
		return b, err
	}
	return b.after, err
}

func (b *batch) runOn(ctx context.Context, keys *pending, use func(store.Tx) error) (err error) {
	t := &tx{ctx: ctx, keys: keys, store: b.store}
	good := false
	defer func() {
		t.end()
		if !good { // an error, a panic, or the end of the goroutine
			keys.takeBack()
		}
	}()
	err = use(t)
	if t.failed != nil {
		err = t.failed // also where use thinks nothing of it
	}
	if err == nil {
		err = ctx.Err()
	}
	if good = err == nil; good {
		b.wrote = b.wrote || len(keys.undo) > 0
		b.bytes += keys.bytes
		keys.keep()
	}
	return err
}

func (b *batch) isCommitted() bool {
	select {
	case <-b.committed:
		return true
	default:
		return false
	}
}

// full tells whether nothing more goes into the batch.
func (b *batch) full() bool { return b.uses >= batchUses || b.bytes >= batchBytes }

// late tells whether the batch is to be committed though more are waiting.
func (b *batch) late() bool { return time.Since(b.began) >= batchTime }

// settle commits the batch and wakes who watches what it wrote.
func (b *batch) settle() error {
	began := time.Now()
	err := b.commit()
	if heard := b.store.observer.Committed; heard != nil {
		heard(time.Since(began), b.uses, err)
	}
	if err != nil {
		b.store.agenda.forget()
		return fmt.Errorf("store: writing %s failed: %w: look at the disk's space and health, then read whether the change is there", b.store.path, err)
	}
	for club, keys := range b.clubs {
		b.store.agenda.written(club, keys.writes)
		b.store.watchers.wake(club, keys.writes)
	}
	return nil
}

func (b *batch) commit() error {
	under, err := b.store.beginUnder(true)
	if err != nil {
		return err
	}
	clubs := slices.Sorted(maps.Keys(b.clubs))
	err = errors.Join(b.store.safely(func() {
		for _, club := range clubs {
			p := b.clubs[club]
			p.file = keysOf(under, club)
			if err = p.apply(under); err != nil {
				return
			}
		}
	}), err)
	switch {
	case err != nil:
	case !b.mayRemap(under):
		err = b.store.safelyTry(under.Commit)
	default:
		ended := make(chan error, 1)
		go func() { ended <- b.store.safelyTry(under.Commit) }()
		select {
		case err = <-ended:
		case <-b.store.health.whole.Done(): // bbolt may keep the lock that it waits for, of a reader that came upon the damage
			b.store.health.stuck.Store(true)
			return b.store.sound()
		}
	}
	if err != nil && b.store.safely(func() { _ = under.Rollback() }) != nil {
		b.store.health.stuck.Store(true)
	}
	return err
}

// mayRemap tells whether bbolt may need more of the file in memory for the commit than it has, which waits for every reader: one that
// came upon damage never ends. Otherwise a commit waits for nobody.
func (b *batch) mayRemap(under *bbolt.Tx) bool {
	size := under.Size()
	return size+b.room(under) >= mapped(size)
}

// room is by how many bytes the file may grow with the commit, and more: a record is written with the pages above it, some of them
// split, and so is the one before it; then there is the list of free pages.
func (b *batch) room(under *bbolt.Tx) int64 {
	const pages = 16 // of one record, but for its own bytes
	records := 0
	for _, p := range b.clubs {
		records += 2 * p.writes.len()
	}
	pageSize := int64(under.DB().Info().PageSize)
	return int64(records*pages)*pageSize + 3*int64(b.bytes) + 16*under.Size()/pageSize + 1<<20
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
