package etcd

import (
	"bytes"
	"context"
	"maps"
	"slices"
	"time"

	"gritward/internal/store"
)

// batch is a number of transactions that run one after another and are committed together. Nobody is answered before, be it with
// an error, which may rest on what another one wrote, or on a state that is the newest no more.
type batch struct {
	m     *mirror
	under *state
	began time.Time
	// keys are the state with what was written.
	keys  *keys
	turns []sharing
	duty  *duty
	// touched are the keys that were written to; ops and bytes are what it takes to write them, about.
	touched    map[string]struct{}
	ops, bytes int
	// dueLater: not all of the agenda went with the commit.
	dueLater bool
	// full: whoever comes next has to wait for the next batch.
	full bool
}

// sharing is a turn that waits for the batch.
type sharing struct {
	*request
	*turn
	wrote bool
}

const (
	// otherOps are the operations of a commit besides those of the keys: the version, the list of clubs, what lies in a blob.
	otherOps = 3
	// batchTime is for how long those who share a commit run.
	batchTime = 10 * time.Millisecond
)

// begin waits until the mirror is where etcd was when last heard of, and nothing is left to be carried out.
func (m *mirror) begin() (*batch, error) {
	ctx, cancel := context.WithTimeout(m.store.ending, m.store.Timeout)
	defer cancel()
	for {
		now, err := m.await(ctx, m.line.behind.Load())
		if err != nil {
			return nil, err
		}
		if now.blob.token == "" {
			return &batch{m: m, under: now, keys: m.copied(now), touched: map[string]struct{}{}, began: time.Now()}, nil
		}
		if err := m.carryOut(ctx, now); err != nil {
			return nil, err
		}
	}
}

// fill gives the word to those who wait until nobody does, or the batch is full.
func (b *batch) fill() {
	for !b.full {
		r := b.m.line.next()
		if r == nil {
			return
		}
		if r.duty != nil && b.duty != nil && r.duty != b.duty {
			r.taken.Store(false)
			b.m.line.back([]*request{r})
			return
		}
		t := &turn{keys: b.keys.Copy(), ran: make(chan ran, 1), verdict: make(chan verdict, 1)}
		r.turn <- t
		if told := <-t.ran; !told.gone {
			b.take(r, t, told)
		}
	}
}

// take takes what a turn wrote into the batch. What is too much beside the others is run again in the next one.
func (b *batch) take(r *request, t *turn, told ran) {
	count, size := 0, 0
	for key := range told.touched {
		if _, there := b.touched[key]; !there {
			old, there := b.under.keys.Get(key)
			count += ops(key, there && old.blob.token != "")
		}
		e, _ := t.keys.Get(key)
		size += len(key) + len(e.value)
	}
	room := b.ops+count+otherOps <= b.m.store.TxnOps && b.bytes+size <= b.m.store.TxnBytes
	if !room && len(b.touched) > 0 {
		b.full = true
		b.m.again([]sharing{{r, t, false}})
		return
	}
	b.ops, b.bytes = b.ops+count, b.bytes+size
	if len(told.touched) > 0 {
		b.keys = t.keys
		maps.Copy(b.touched, told.touched)
	}
	if r.duty != nil {
		b.duty = r.duty
	}
	b.turns = append(b.turns, sharing{r, t, len(told.touched) > 0})
	b.full = !room || time.Since(b.began) >= batchTime
}

// again has turns run again, before all others.
func (m *mirror) again(those []sharing) {
	var requests []*request
	for _, one := range those {
		one.taken.Store(false)
		requests = append(requests, one.request)
	}
	m.line.back(requests)
	for _, one := range those {
		one.verdict <- verdict{again: true}
	}
}

// tell tells those who shared the batch what came of it.
func (b *batch) tell(v verdict) {
	if v.again {
		b.m.store.lost.Add(1)
		b.m.again(b.turns)
		return
	}
	for _, one := range b.turns {
		if one.request.duty == nil && v.failed == store.ErrOffDuty {
			continue
		}
		one.verdict <- v
	}
	if v.failed == store.ErrOffDuty {
		b.m.again(slices.DeleteFunc(b.turns, func(one sharing) bool { return one.request.duty != nil }))
	}
}

// observed is settle, told to who observes.
func (b *batch) observed() verdict {
	began := time.Now()
	v := b.settle()
	if b.m.store.Observer.Committed != nil && len(b.turns) > 0 && len(b.touched) > 0 {
		b.m.store.Observer.Committed(time.Since(began), len(b.turns), v.failed)
	}
	return v
}

// apart is the size of values from which on they are kept apart from their keys.
func (s *Store) apart() int { return s.TxnBytes / 4 }

// changes are what the batch changes, in the order of keys, and what lies apart of it, by blob.
func (b *batch) changes() (changes []change, blobs map[string][]byte) {
	blobs = map[string][]byte{}
	for _, key := range slices.Sorted(maps.Keys(b.touched)) {
		e, is := b.keys.Get(key)
		old, was := b.under.keys.Get(key)
		switch {
		case !is && !was:
			continue
		case is && was && bytes.Equal(e.value, old.value):
			b.keys.Set(key, old)
			continue
		}
		c := change{key: key, drops: old.blob.token}
		if is {
			if len(e.value) > b.m.store.apart() {
				e.blob = b.m.store.blobOf(e.value)
				b.keys.Set(key, e)
				blobs[e.blob.token] = e.value
			}
			c.record = e.record()
		}
		changes = append(changes, c)
	}
	return changes, blobs
}
