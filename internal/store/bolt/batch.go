package bolt

import (
	"context"
	"fmt"
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

// batch is a number of transactions that run one after another and are brought to the disk together. None of those that wrote, or
// may have seen what another one wrote, is answered before.
type batch struct {
	store *Store
	began time.Time
	// number is one more than that of the batch before.
	number uint64
	// after is the batch that was on its way to the disk when this one began, and whose writes it sees; nil once they are
	// there, or if there was none.
	after *batch
	// clubs are what the transactions wrote, by club, on top of what the batches before wrote that is not in the file.
	clubs map[string]*pending
	uses  int
	bytes int
	wrote bool
	// committed is closed when it has been settled whether the batch is on the disk; failed says why it is not.
	committed chan struct{}
	failed    error
}

func newBatch(s *Store, after *batch) *batch {
	b := &batch{store: s, after: after, began: time.Now(), clubs: map[string]*pending{}, committed: make(chan struct{})}
	if after != nil {
		b.number = after.number + 1
	} else {
		b.number = s.seen().last + 1
	}
	return b
}

// of is what the batch wrote of a club's, over what those before it wrote.
func (b *batch) of(club string, seen *state) *pending {
	p := b.clubs[club]
	if p == nil {
		before := seen.clubs[club]
		if b.after != nil && b.after.clubs[club] != nil {
			before = b.after.clubs[club].writes
		}
		p = &pending{batch: b.number, writes: before.over(seen.filed)}
		b.clubs[club] = p
	}
	return p
}

// doomed tells that the batch before it failed, whose writes were to be seen.
func (b *batch) doomed() bool { return b.after != nil && b.after.failed != nil }

// run runs use, of the goroutine that has the word, and tells what must be on the disk before it is answered; nil: nothing.
func (b *batch) run(ctx context.Context, club string, use func(store.Tx) error) (until *batch, err error) {
	if b.after != nil && b.after.isCommitted() && !b.doomed() { // a doomed batch must not forget what it fails with
		b.after = nil
	}
	b.uses++
	err = b.store.read(func(under *bbolt.Tx, seen *state, _ uint64) error {
		keys := b.of(club, seen)
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

// settle brings the batch to the disk and wakes who watches what it wrote.
func (b *batch) settle() error {
	began, own := time.Now(), b.own()
	err := b.store.bring(b, own)
	if heard := b.store.observer.Committed; heard != nil {
		heard(time.Since(began), b.uses, err)
	}
	if err != nil {
		b.store.agenda.forget()
		return fmt.Errorf("store: writing %s failed: %w: look at the disk's space and health, then read whether the change is there", b.store.path, err)
	}
	for club, writes := range own {
		b.store.agenda.written(club, writes)
		b.store.watchers.wake(club, writes)
	}
	return nil
}

// own is what the transactions of the batch itself wrote, by club.
func (b *batch) own() map[string]*sorted {
	own := make(map[string]*sorted, len(b.clubs))
	for club, p := range b.clubs {
		if writes := p.writes.since(b.number - 1); writes.len() > 0 {
			own[club] = writes
		}
	}
	return own
}
