package bolt

import (
	"bytes"
	"context"

	"gritward/internal/store"
)

// tx implements store.Tx.
type tx struct {
	ctx      context.Context
	keys     *pending
	readOnly bool
	version  uint64
	store    *Store
	// failed is the damage that was come upon.
	failed error
	scans  int // scans under way
	over   bool
	// opens opens the keys of a View, when it reads first: one that finds by the version that nothing has changed reads none.
	opens func()
}

func (t *tx) end() { t.over = true }

// Version implements store.Tx.
func (t *tx) Version() uint64 { return t.version }

// Get implements store.Tx.
func (t *tx) Get(key string) ([]byte, error) {
	if t.over {
		return nil, store.ErrClosed
	}
	if err := store.CheckKey(key); err != nil {
		return nil, err
	}
	var value []byte
	if err := t.safely(func() { value = t.keys.get(key) }); err != nil || value == nil {
		return nil, err
	}
	return append([]byte{}, value...), nil // the bytes lie in bbolt's map of the file, or wait for the commit
}

// Is implements store.Tx. Bytes that are equal to those that were held against their sum once need not be so again.
func (t *tx) Is(key string, value []byte) (same bool, err error) {
	if t.over {
		return false, store.ErrClosed
	}
	if err := store.CheckKey(key); err != nil {
		return false, err
	}
	err = t.safely(func() { same = t.keys.is(key, value) })
	return same, err
}

// safely reads the file: what is damaged in it becomes an error, of this transaction and of every later one.
func (t *tx) safely(read func()) error {
	if open := t.opens; open != nil {
		t.opens = nil
		t.failed = t.store.safely(open)
	}
	if t.failed == nil {
		t.failed = t.store.safely(read)
	}
	return t.failed
}

// writable tells whether key may be written now.
func (t *tx) writable(key string) error {
	switch {
	case t.over:
		return store.ErrClosed
	case t.readOnly:
		return store.ErrReadOnly
	case t.scans > 0:
		return store.ErrScanning
	}
	return store.CheckKey(key)
}

// Put implements store.Tx.
func (t *tx) Put(key string, value []byte) error {
	if err := t.writable(key); err != nil {
		return err
	}
	t.keys.write(written(key, value))
	return nil
}

// Delete implements store.Tx.
func (t *tx) Delete(key string) error {
	if err := t.writable(key); err != nil {
		return err
	}
	return t.safely(func() {
		if t.keys.get(key) != nil {
			t.keys.write(entry{key: key})
		}
	})
}

// Scan implements store.Tx.
func (t *tx) Scan(prefix, after string, visit store.Visit) error {
	return t.scan(prefix, visit, func() *walk {
		from := prefix
		if after >= prefix && after != "" {
			from = after + "\x00" // the least key above it
		}
		return t.keys.up(from)
	})
}

// ScanDown implements store.Tx.
func (t *tx) ScanDown(prefix, before string, visit store.Visit) error {
	return t.scan(prefix, visit, func() *walk {
		below := successor(prefix)
		if before != "" && (below == "" || before < below) {
			below = before
		}
		return t.keys.downFrom(below)
	})
}

// scan visits what a walk finds, for as long as it begins with prefix.
func (t *tx) scan(prefix string, visit store.Visit, begin func() *walk) error {
	if t.over {
		return store.ErrClosed
	}
	t.scans++
	defer func() { t.scans-- }()
	var w *walk
	if err := t.safely(func() { w = begin() }); err != nil {
		return err
	}
	defer w.end()
	for {
		var key string
		var value []byte
		more := false
		if err := t.safely(func() {
			var f found
			if f, more = w.step(); more && bytes.HasPrefix(f.raw, bytesOf(prefix)) {
				key, value = f.key(), w.value(f)
			} else {
				more = false
			}
		}); err != nil || !more {
			return err
		}
		if err := t.ctx.Err(); err != nil {
			return err
		}
		if more, err := visit(key, value); err != nil || !more {
			return err
		}
	}
}

// successor is the least string above all that begin with prefix; "" when there is none.
func successor(prefix string) string {
	for i := len(prefix) - 1; i >= 0; i-- {
		if prefix[i] < 0xff {
			return prefix[:i] + string([]byte{prefix[i] + 1})
		}
	}
	return ""
}
