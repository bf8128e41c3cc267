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
	// batchTime and for how long they run: who came first waits for those who share the commit.
	batchTime = 10 * time.Millisecond
)

// batch is a number of transactions that run one after another and are committed together. None of those that wrote, or
// may have seen what another one wrote, is answered before.
type batch struct {
	store *Store
	under *bbolt.Tx
	began time.Time
	// clubs are what the transactions wrote, by club.
	clubs map[string]*pending
	uses  int
	bytes int
	wrote bool
	// committed is closed when it has been settled whether the batch is on the disk; failed says why it is not.
	committed chan struct{}
	failed    error
}

// run runs use, of the goroutine that waits for it, and tells whether it must wait for the commit with its answer.
func (b *batch) run(ctx context.Context, club string, use func(store.Tx) error) (wait bool, err error) {
	keys := b.clubs[club]
	if keys == nil {
		keys = &pending{writes: &sorted{}}
		if err := b.store.safely(func() { keys.file = keysOf(b.under, club) }); err != nil {
			return false, err
		}
		b.clubs[club] = keys
	}
	t := &tx{ctx: ctx, keys: keys, store: b.store}
	b.uses++
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
		for _, one := range keys.undo {
			b.bytes += len(one.key) + len(keys.writes.find(one.key).record)
		}
		keys.keep()
	}
	return b.wrote, err
}

// full tells whether the batch is to be committed though more are waiting.
func (b *batch) full() bool {
	return b.uses >= batchUses || b.bytes >= batchBytes || time.Since(b.began) >= batchTime
}

// settle commits the batch and wakes who waits for it, and then who watches what it wrote.
func (b *batch) settle() {
	defer close(b.committed)
	if !b.wrote {
		_ = b.under.Rollback() // spares the disk two waits
		return
	}
	began := time.Now()
	err := b.commit()
	if heard := b.store.observer.Committed; heard != nil {
		heard(time.Since(began), b.uses, err)
	}
	if err != nil {
		b.failed = fmt.Errorf("store: writing %s failed: %w: look at the disk's space and health, then read whether the change is there", b.store.path, err)
		return
	}
	for club, keys := range b.clubs {
		b.store.watchers.wake(club, keys.writes)
	}
}

func (b *batch) commit() (err error) {
	clubs := slices.Sorted(maps.Keys(b.clubs))
	err = errors.Join(b.store.safely(func() {
		for _, club := range clubs {
			if err = b.clubs[club].apply(b.under); err != nil {
				return
			}
		}
	}), err)
	if err == nil {
		err = b.store.safelyTry(b.under.Commit)
	}
	if err != nil && b.store.safely(func() { _ = b.under.Rollback() }) != nil {
		b.store.health.stuck.Store(true)
	}
	return err
}
