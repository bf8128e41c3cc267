package bolt

import (
	"context"
	"strings"

	"gritward/internal/store"
)

// tx implements store.Tx.
type tx struct {
	ctx      context.Context
	keys     *pending
	readOnly bool
	scans    int // scans under way
	over     bool
}

func (t *tx) end() { t.over = true }

// Get implements store.Tx.
func (t *tx) Get(key string) ([]byte, error) {
	if t.over {
		return nil, store.ErrClosed
	}
	if err := store.CheckKey(key); err != nil {
		return nil, err
	}
	value := t.keys.get(key)
	if value == nil {
		return nil, nil
	}
	return append([]byte{}, value...), nil // the bytes lie in bbolt's map of the file, or wait for the commit
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
	t.keys.write(entry{key: key, value: append([]byte{}, value...)}) // never nil, which stands for absent
	return nil
}

// Delete implements store.Tx.
func (t *tx) Delete(key string) error {
	if err := t.writable(key); err != nil {
		return err
	}
	if t.keys.get(key) != nil {
		t.keys.write(entry{key: key, gone: true})
	}
	return nil
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
	w := begin()
	for {
		key, value, there := w.step()
		if !there || !strings.HasPrefix(key, prefix) {
			return nil
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
