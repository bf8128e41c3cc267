package bolt

import "go.etcd.io/bbolt"

// walk goes through the keys of the file and of the writes together, in one direction.
type walk struct {
	p    *pending
	down bool
	// cursor is nil where the file has no keys; key and record are where it stands, nil at its end.
	cursor      *bbolt.Cursor
	key, record []byte
	// stood: what the cursor stands at was given, and it is to move on.
	stood bool
	// before: the cursor stands at the record before key; with begins at none.
	before, begins bool
	at             place
}

func (p *pending) walk(down bool) *walk {
	w := p.file.spare
	if w == nil {
		w = &walk{}
		if p.file.bucket != nil {
			w.cursor = p.file.bucket.Cursor()
		}
	}
	p.file.spare = nil
	*w = walk{p: p, down: down, cursor: w.cursor}
	return w
}

// end leaves the walk to whoever walks next: a cursor has room for its way down the pages, which takes some time to make.
func (w *walk) end() { w.p.file.spare = w }

// up begins a walk at the first key that is not less than from.
func (p *pending) up(from string) *walk {
	w := p.walk(false)
	w.from(from)
	return w
}

// downFrom begins a walk down at the last key that is less than below; "" is above all.
func (p *pending) downFrom(below string) *walk {
	w := p.walk(true)
	w.below(below)
	return w
}

// from has a walk up begin at the first key that is not less than key.
func (w *walk) from(key string) {
	w.stood, w.before = false, false
	if w.cursor != nil {
		if w.key, w.record = w.cursor.Seek(bytesOf(key)); w.key == nil || string(w.key) != key {
			before, _ := w.p.file.gap(w.cursor, w.key, key)
			w.before, w.begins = true, before == nil
		}
	}
	if w.p.writes != nil {
		w.at = w.p.writes.seek(key)
	}
}

// below has a walk down begin at the last key that is less than key.
func (w *walk) below(key string) {
	w.stood = false
	if w.cursor != nil {
		if key == "" {
			w.key, w.record = w.cursor.Last()
			w.p.file.edge(w.key, w.record, nil)
		} else {
			found, _ := w.cursor.Seek(bytesOf(key))
			w.key, w.record = w.p.file.gap(w.cursor, found, key)
		}
	}
	if w.p.writes != nil {
		if w.at = (place{chunk: len(w.p.writes.chunks)}); key != "" {
			w.at = w.p.writes.seek(key)
		}
		w.at = w.p.writes.previous(w.at)
	}
}

// found is a record that a walk came to.
type found struct {
	raw, record []byte
	// written is the key where it is of the writes; else "".
	written string
}

func (f found) key() string {
	if f.written != "" {
		return f.written
	}
	return string(f.raw)
}

// step gives the next record and moves on; there is false at the end.
func (w *walk) step() (f found, there bool) {
	for {
		if w.stood {
			w.file()
			w.stood = false
		}
		var change *entry
		if w.p.writes != nil {
			change = w.p.writes.at(w.at)
		}
		if change == nil && w.key == nil {
			return f, false
		}
		order := w.order(change)
		w.stood = order <= 0
		if order < 0 {
			return found{raw: w.key, record: w.record}, true
		}
		if w.down { // what is written comes before what the file has of the same key
			w.at = w.p.writes.previous(w.at)
		} else {
			w.at = w.p.writes.next(w.at)
		}
		if !change.gone() {
			return found{bytesOf(change.key), change.record, change.key}, true
		}
	}
}

// value is that of a record, the store's own.
func (w *walk) value(f found) []byte {
	if f.written == "" {
		return w.p.file.open(f.raw, f.record)
	}
	return f.record[sumBytes:]
}

// order tells whether the file's key comes before the one written, < 0, after it, > 0, or is the same.
func (w *walk) order(change *entry) int {
	switch {
	case change == nil:
		return -1
	case w.key == nil:
		return 1
	case string(w.key) == change.key:
		return 0
	case (string(w.key) < change.key) == w.down:
		return 1
	}
	return -1
}

// file moves on in the file.
func (w *walk) file() {
	key, record := w.key, w.record
	if w.before { // back again
		if w.begins {
			w.cursor.Seek(key)
		} else {
			w.cursor.Next()
		}
		w.before = false
	}
	if w.down {
		w.key, w.record = w.cursor.Prev()
		w.p.file.edge(w.key, w.record, key)
	} else {
		w.key, w.record = w.cursor.Next()
		w.p.file.edge(key, record, w.key)
	}
}
