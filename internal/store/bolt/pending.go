package bolt

import "go.etcd.io/bbolt"

// pending is what one club's transactions of a batch wrote, on top of what the file holds. The file's transaction is not
// written to before the commit, so that one that fails is taken back here and leaves no trace.
type pending struct {
	club string
	// file is the club's bucket as the file has it; nil when the club has no key there.
	file *bbolt.Bucket
	// writes is nil where nothing can be written: in a View.
	writes *sorted
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
			return e.value
		}
	}
	if p.file == nil {
		return nil
	}
	return p.file.Get([]byte(key))
}

// write keeps what a key is to become.
func (p *pending) write(e entry) {
	if old := p.writes.find(e.key); old != nil {
		p.undo = append(p.undo, former{*old, true})
	} else {
		p.undo = append(p.undo, former{entry{key: e.key}, false})
	}
	p.writes.set(e)
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
	p.undo = nil
}

// keep lets stand what was written.
func (p *pending) keep() { p.undo = nil }

// walk goes through the keys of the file and of the writes together, in one direction.
type walk struct {
	p    *pending
	down bool
	// key and value are where the file's cursor stands; key is nil at its end.
	cursor     *bbolt.Cursor
	key, value []byte
	at         place
}

// up begins a walk at the first key that is not less than from.
func (p *pending) up(from string) *walk {
	w := &walk{p: p}
	if p.file != nil {
		w.cursor = p.file.Cursor()
		w.key, w.value = w.cursor.Seek([]byte(from))
	}
	if p.writes != nil {
		w.at = p.writes.seek(from)
	}
	return w
}

// downFrom begins a walk down at the last key that is less than below; "" is above all.
func (p *pending) downFrom(below string) *walk {
	w := &walk{p: p, down: true}
	if p.file != nil {
		w.cursor = p.file.Cursor()
		w.key, w.value = before(w.cursor, below)
	}
	if p.writes != nil {
		if w.at = (place{chunk: len(p.writes.chunks)}); below != "" {
			w.at = p.writes.seek(below)
		}
		w.at = p.writes.previous(w.at)
	}
	return w
}

// before moves a cursor to the last key that is less than below; "" is above all.
func before(c *bbolt.Cursor, below string) (key, value []byte) {
	if below != "" {
		if key, _ := c.Seek([]byte(below)); key != nil {
			return c.Prev()
		}
	}
	return c.Last()
}

// step gives the next key with its value, the store's own, and moves on; there is false at the end.
func (w *walk) step() (key string, value []byte, there bool) {
	for {
		written := w.written()
		switch {
		case written == nil && w.key == nil:
			return "", nil, false
		case written == nil || w.key != nil && w.first(string(w.key), written.key):
			key, value = string(w.key), w.value
			w.file()
			return key, value, true
		}
		if string(w.key) == written.key && w.key != nil {
			w.file() // the writes come before the file
		}
		key, value, gone := written.key, written.value, written.gone
		if w.down {
			w.at = w.p.writes.previous(w.at)
		} else {
			w.at = w.p.writes.next(w.at)
		}
		if !gone {
			return key, value, true
		}
	}
}

// first tells whether key a comes strictly before b in this direction.
func (w *walk) first(a, b string) bool {
	if w.down {
		return a > b
	}
	return a < b
}

// written is where the walk stands in the writes; nil at the end.
func (w *walk) written() *entry {
	if w.p.writes == nil {
		return nil
	}
	return w.p.writes.at(w.at)
}

// file moves on in the file.
func (w *walk) file() {
	if w.down {
		w.key, w.value = w.cursor.Prev()
	} else {
		w.key, w.value = w.cursor.Next()
	}
}
