package bolt

import "go.etcd.io/bbolt"

// walk goes through the keys of the file and of the writes together, in one direction.
type walk struct {
	p    *pending
	down bool
	// cursor is nil where the file has no keys; key and record are where it stands, nil at its end.
	cursor      *bbolt.Cursor
	key, record []byte
	at          place
}

// up begins a walk at the first key that is not less than from.
func (p *pending) up(from string) *walk {
	w := &walk{p: p}
	if p.file.bucket != nil {
		w.cursor = p.file.bucket.Cursor()
		if w.key, w.record = w.cursor.Seek([]byte(from)); string(w.key) != from || w.key == nil {
			p.file.gap(w.cursor, w.key, from)
			w.cursor.Seek([]byte(from)) // back again
		}
	}
	if p.writes != nil {
		w.at = p.writes.seek(from)
	}
	return w
}

// downFrom begins a walk down at the last key that is less than below; "" is above all.
func (p *pending) downFrom(below string) *walk {
	w := &walk{p: p, down: true}
	if p.file.bucket != nil {
		w.cursor = p.file.bucket.Cursor()
		if below == "" {
			w.key, w.record = w.cursor.Last()
			p.file.edge(w.key, w.record, nil)
		} else {
			found, _ := w.cursor.Seek([]byte(below))
			w.key, w.record = p.file.gap(w.cursor, found, below)
		}
	}
	if p.writes != nil {
		if w.at = (place{chunk: len(p.writes.chunks)}); below != "" {
			w.at = p.writes.seek(below)
		}
		w.at = p.writes.previous(w.at)
	}
	return w
}

// found is a record that a walk came to.
type found struct {
	key    string
	record []byte
	inFile bool
}

// step gives the next record and moves on; there is false at the end.
func (w *walk) step() (f found, there bool) {
	for {
		var change *entry
		if w.p.writes != nil {
			change = w.p.writes.at(w.at)
		}
		if change == nil && w.key == nil {
			return f, false
		}
		if order := w.order(change); order <= 0 {
			f = found{string(w.key), w.record, true}
			w.file() // which the writes come before
			if order < 0 {
				return f, true
			}
		}
		if w.down {
			w.at = w.p.writes.previous(w.at)
		} else {
			w.at = w.p.writes.next(w.at)
		}
		if !change.gone() {
			return found{change.key, change.record, false}, true
		}
	}
}

// value is that of a record, the store's own.
func (w *walk) value(f found) []byte {
	if f.inFile {
		return w.p.file.open(f.key, f.record)
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
	if w.down {
		w.key, w.record = w.cursor.Prev()
		w.p.file.edge(w.key, w.record, key)
	} else {
		w.key, w.record = w.cursor.Next()
		w.p.file.edge(key, record, w.key)
	}
}
