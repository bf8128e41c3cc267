package bolt

import "bytes"

// pending is what one club's transactions wrote, on top of what the file holds. The file's transaction is not
// written to before the commit, so that one that fails is taken back here and leaves no trace.
type pending struct {
	file fileKeys
	// writes is what was written and is not in the file, by the batches before, too. In a View it is only read, and nil where there is
	// nothing.
	writes *sorted
	// batch is the number of the batch.
	batch uint64
	// bytes is how much was written since the last keep, about.
	bytes int
	// undo is how the writes of the transaction that runs were before, in the order of writing.
	undo []former
}

// former is the entry of a key before it was written; was is false when it had none.
type former struct {
	entry
	was bool
}

// get gives the value of a key, the store's own; nil when it is absent.
func (p *pending) get(key string) []byte {
	if p.writes != nil {
		if e := p.writes.find(key); e != nil {
			return e.value()
		}
	}
	return p.file.get(key)
}

// is tells whether a key has that value. Of one that it has not the sum is looked at: what is damaged is not another value.
func (p *pending) is(key string, value []byte) bool {
	if p.writes != nil {
		if e := p.writes.find(key); e != nil {
			return !e.gone() && bytes.Equal(e.value(), value)
		}
	}
	record := p.file.find(key)
	switch {
	case record == nil:
		return false
	case len(record) >= sumBytes && bytes.Equal(record[sumBytes:], value):
		return true
	}
	p.file.open(bytesOf(key), record)
	return false
}

// write keeps what a key is to become.
func (p *pending) write(e entry) {
	e.batch = p.batch
	old, was := p.writes.set(e)
	p.undo = append(p.undo, former{old, was})
	p.bytes += len(e.key) + len(e.record)
}

// takeBack undoes what was written since the last keep.
func (p *pending) takeBack() {
	for i := len(p.undo) - 1; i >= 0; i-- {
		if before := p.undo[i]; before.was {
			p.writes.set(before.entry)
		} else {
			p.writes.drop(before.key)
		}
	}
	p.keep()
}

// keep lets stand what was written.
func (p *pending) keep() {
	clear(p.undo)
	p.undo, p.bytes = p.undo[:0], 0
}
