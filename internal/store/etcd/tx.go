package etcd

import (
	"bytes"
	"context"
	"strings"

	"gritward/internal/store"
)

// tx implements store.Tx, over a tree that nobody else uses meanwhile where it may write.
type tx struct {
	ctx      context.Context
	keys     *keys
	readOnly bool
	version  uint64
	// wrote are the keys that were written to.
	wrote written
	scans int // scans under way
	over  bool
}

// written are keys that were written to, so that nothing is looked for again: the tree is large.
type written map[string]*touch

// touch is how a key was before it was first written to, and is now: there or not, and what.
type touch struct {
	was, is  bool
	old, now entry
}

// note keeps what a key was before it was written to, and is now.
func (w written) note(key string, latest touch) {
	if first := w[key]; first != nil {
		first.is, first.now = latest.is, latest.now
		return
	}
	w[key] = &latest
}

// takeBack makes keys what they were.
func (w written) takeBack(keys *keys) {
	for key, t := range w {
		if t.was {
			keys.Set(key, t.old)
		} else {
			keys.Delete(key)
		}
	}
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
	e, there := t.keys.Get(key)
	if !there {
		return nil, nil
	}
	return append([]byte{}, e.value...), nil // others read the same bytes
}

// Is implements store.Tx.
func (t *tx) Is(key string, value []byte) (bool, error) {
	if t.over {
		return false, store.ErrClosed
	}
	if err := store.CheckKey(key); err != nil {
		return false, err
	}
	e, there := t.keys.Get(key)
	return there && bytes.Equal(e.value, value), nil
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
	now := entry{value: append([]byte{}, value...)}
	old, there := t.keys.Set(key, now)
	t.wrote.note(key, touch{there, true, old, now})
	return nil
}

// Delete implements store.Tx.
func (t *tx) Delete(key string) error {
	if err := t.writable(key); err != nil {
		return err
	}
	if old, there := t.keys.Delete(key); there {
		t.wrote.note(key, touch{was: true, old: old})
	}
	return nil
}

// Scan implements store.Tx.
func (t *tx) Scan(prefix, after string, visit store.Visit) error {
	from := prefix
	if after >= prefix && after != "" {
		from = after + "\x00" // the least key above it
	}
	return t.scan(prefix, visit, func(each func(string, entry) bool) { t.keys.Ascend(from, each) })
}

// ScanDown implements store.Tx.
func (t *tx) ScanDown(prefix, before string, visit store.Visit) error {
	below := successor(prefix)
	if before != "" && (below == "" || before < below) {
		below = before
	}
	return t.scan(prefix, visit, func(each func(string, entry) bool) {
		if below == "" {
			t.keys.Reverse(each)
			return
		}
		t.keys.Descend(below, func(key string, e entry) bool { return key == below || each(key, e) })
	})
}

// scan visits what a walk finds, for as long as it begins with prefix.
func (t *tx) scan(prefix string, visit store.Visit, walk func(func(string, entry) bool)) (err error) {
	if t.over {
		return store.ErrClosed
	}
	t.scans++
	defer func() { t.scans-- }()
	walk(func(key string, e entry) (more bool) {
		if !strings.HasPrefix(key, prefix) {
			return false
		}
		if err = t.ctx.Err(); err != nil {
			return false
		}
		more, err = visit(key, e.value)
		return more && err == nil
	})
	return err
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
