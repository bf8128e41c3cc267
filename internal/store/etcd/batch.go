package etcd

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"maps"
	"slices"
	"time"

	"gritward/internal/store"
)

// batch is a number of transactions that run one after another and are committed together. Nobody is answered before, be it with
// an error, which may rest on what another one wrote, or on a state that is the newest no more.
type batch struct {
	m *mirror
	// under is what the batch runs on: what etcd has, or what the batch on its way makes. Its revision is known when that is done.
	under *state
	// began is when the first of its turns did.
	began time.Time
	// keys are the state with what was written.
	keys  *keys
	packs *packs
	turns []sharing
	duty  *duty
	// touched are the keys that were written to; ops and bytes are what it takes to write them, about, and packed are the bytes of what goes
	// into packs.
	touched            written
	ops, bytes, packed int
	// full: whoever comes next has to wait for the next batch.
	full bool

	// changes are what it changes, in the order of keys, and blobs what lies apart of it, by token; next is the version that comes of
	// it, and makes the state, whose revision is known when it is done.
	changes []change
	// grown is by how much the club takes more memory then, bytes.
	grown int64
	blobs map[string][]byte
	next  version
	makes *state
	// done is closed when it is known what became of the batch: outcome.
	done    chan struct{}
	outcome verdict
}

// sharing is a turn that waits for the batch.
type sharing struct {
	*request
	*turn
}

const (
	// otherOps are the operations of a commit besides those of the keys: the version, the list of clubs, what lies in a blob.
	otherOps = 3
	// batchTime is for how long those who share a commit run where none is on its way.
	batchTime = 10 * time.Millisecond
)

// batchOn is an empty batch upon a state.
func (m *mirror) batchOn(under *state) *batch {
	keys, packs := m.copied(under)
	return &batch{m: m, under: under, keys: keys, packs: packs, touched: written{}, done: make(chan struct{})}
}

// begin begins a batch upon what another one makes that is on its way. Without one it waits until the mirror is where etcd was when last
// heard of, and nothing is left to be carried out.
func (m *mirror) begin(under *batch) (*batch, error) {
	if under != nil {
		return m.batchOn(under.makes), nil
	}
	ctx, cancel := context.WithTimeout(m.store.ending, m.store.Timeout)
	defer cancel()
	for {
		now, err := m.await(ctx, m.line.behind.Load())
		if err != nil {
			return nil, err
		}
		if now.blob.token == "" {
			return m.batchOn(now), nil
		}
		if err := m.carryOut(ctx, now); err != nil {
			return nil, err
		}
	}
}

// fill gives the word to those who wait, until the batch is full, or can be sent: when the one on its way is done; where there is none,
// when nobody waits or batchTime is over.
func (b *batch) fill(under *batch) {
	for !b.full {
		if under != nil && under.isDone() {
			if under.outcome != (verdict{}) || len(b.turns) > 0 {
				return
			}
			under = nil
		}
		if r := b.m.line.next(); r != nil {
			b.run(r)
		} else if under == nil {
			return
		} else {
			select {
			case <-under.done:
			case <-b.m.line.came:
			}
		}
		if under == nil && len(b.turns) > 0 && time.Since(b.began) >= batchTime {
			return
		}
	}
}

func (b *batch) isDone() bool {
	select {
	case <-b.done:
		return true
	default:
		return false
	}
}

// landed waits until it is known what became of the batch on its way, and tells whether it was done. Where it came to nothing, its turns
// and those that ran on them are run again, in their order.
func (b *batch) landed(next []sharing) bool {
	if <-b.done; b.outcome == (verdict{}) {
		return true
	}
	b.m.again(append(b.tell(), next...))
	return false
}

// run gives a caller the word, unless the next batch has to.
func (b *batch) run(r *request) {
	if r.duty != nil && b.duty != nil && r.duty != b.duty {
		r.taken.Store(false)
		b.m.line.back([]*request{r})
		b.full = true
		return
	}
	if len(b.turns) == 0 {
		b.began = time.Now()
	}
	t := &turn{keys: b.keys, ran: make(chan ran, 1), verdict: make(chan verdict, 1)}
	r.turn <- t
	if told := <-t.ran; !told.gone {
		b.take(r, t, told.wrote)
	}
}

// take takes what a turn wrote into the batch. What is too much beside the others is run again in the next one.
func (b *batch) take(r *request, t *turn, wrote written) {
	count, size, together := 0, 0, 0
	for key, one := range wrote {
		length := len(one.now.value)
		size += len(key) + length
		if b.touched[key] != nil {
			continue
		}
		switch {
		case one.is && !one.was && packable(key, length+1):
			together += packed(key, length+1)
		default:
			count += ops(key, one.old.lies != nil)
			if one.old.pack() != "" {
				size += packBytes
			}
		}
	}
	made := 1 + (b.packed+together)/(packBytes-packedBytes) // each but the last has no room for another record
	room := b.ops+count+made+otherOps <= b.m.store.TxnOps && b.bytes+size <= b.m.store.TxnBytes
	b.full = !room
	if !room && len(b.touched) > 0 {
		wrote.takeBack(b.keys)
		b.m.again([]sharing{{r, t}})
		return
	}
	b.ops, b.bytes, b.packed = b.ops+count, b.bytes+size, b.packed+together
	for key, one := range wrote {
		b.touched.note(key, *one)
	}
	if r.duty != nil {
		b.duty = r.duty
	}
	b.turns = append(b.turns, sharing{r, t})
}

// again has turns run again, before all others.
func (m *mirror) again(those []sharing) {
	requests := make([]*request, len(those))
	for i, one := range those {
		one.taken.Store(false)
		requests[i] = one.request
	}
	m.line.back(requests)
	for _, one := range those {
		one.verdict <- verdict{again: true}
	}
}

// tell tells those who shared the batch what came of it, but for those who are to be run again.
func (b *batch) tell() (again []sharing) {
	for _, one := range b.turns {
		if b.outcome.again || b.outcome.failed == store.ErrOffDuty && one.request.duty == nil {
			again = append(again, one)
		} else {
			one.verdict <- b.outcome
		}
	}
	return again
}

// apart is the size of values from which on they are kept apart from their keys.
func (s *Store) apart() int { return s.TxnBytes / 4 }

// close fixes what the batch changes.
func (b *batch) close() {
	b.changes = make([]change, 0, len(b.touched))
	b.blobs, b.next = map[string][]byte{}, version{token: rand.Text()}
	for _, key := range slices.Sorted(maps.Keys(b.touched)) {
		one := b.touched[key]
		switch {
		case !one.is && !one.was:
			continue
		case one.is && one.was && bytes.Equal(one.now.value, one.old.value):
			b.keys.Set(key, one.old)
			continue
		}
		c := change{key: key, drops: one.old.blob().token, leaves: one.old.pack(), fresh: !one.was}
		if one.was {
			b.grown -= size(key, one.old)
		}
		if e := one.now; one.is {
			if len(e.value) > b.m.store.apart() {
				e.lies = &place{blob: b.m.store.blobOf(e.value)}
				b.keys.Set(key, e)
				b.blobs[e.blob().token], c.fresh = e.value, false
			}
			c.record = e.record()
			b.grown += size(key, e)
		}
		b.changes = append(b.changes, c)
	}
	b.makes = &state{keys: b.keys, packs: b.packs}
	pack(b.changes, func(number int) string { return fmt.Sprintf("%s-%d", b.next.token, number) })
	if b.m.tooMany(b.changes) {
		for i := range b.changes {
			b.changes[i].pack = "" // they are carried out one by one
		}
		data := appendChanges(nil, b.changes)
		b.next.pending = b.m.store.blobOf(data)
		b.blobs[b.next.pending.token] = data
		b.makes.pending, b.makes.blob = b.changes, b.next.pending
	}
	b.settlePacks()
}

// reads tells whether the batch changes nothing, so that it is only to be made sure that what it read is the newest.
func (b *batch) reads() bool { return len(b.changes) == 0 && b.duty == nil }

// alone tells whether nothing runs on the batch before it is done: it makes no state of its own, or one that is to be carried out first.
func (b *batch) alone() bool { return b.reads() || b.next.pending.token != "" }
