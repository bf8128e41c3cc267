package bolt

import (
	"bytes"
	"context"
	"fmt"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
)

// tx implements store.Tx.
type tx struct {
	ctx   context.Context
	under *bbolt.Tx
	club  []byte
	// keys is the club's bucket; nil until the club's first key is written.
	keys  *bbolt.Bucket
	scans int // scans under way
	// written are the keys that were put or deleted; one may be there more than once.
	written []string
	over    bool
}

func begin(ctx context.Context, under *bbolt.Tx, club string) *tx {
	keys := under.Bucket(clubsBucket()).Bucket([]byte(club))
	return &tx{ctx: ctx, under: under, club: []byte(club), keys: keys}
}

func (t *tx) end() { t.over = true }

// Get implements store.Tx.
func (t *tx) Get(key string) ([]byte, error) {
	if t.over {
		return nil, store.ErrClosed
	}
	if err := store.CheckKey(key); err != nil || t.keys == nil {
		return nil, err
	}
	value := t.keys.Get([]byte(key))
	if value == nil {
		return nil, nil
	}
	return append([]byte{}, value...), nil // bbolt's bytes lie in its map of the file
}

// writable tells whether key may be written now.
func (t *tx) writable(key string) error {
	switch {
	case t.over:
		return store.ErrClosed
	case !t.under.Writable():
		return store.ErrReadOnly
	case t.scans > 0:
		return store.ErrScanning
	}
	return store.CheckKey(key)
}

// Put implements store.Tx.
func (t *tx) Put(key string, value []byte) (err error) {
	if err := t.writable(key); err != nil {
		return err
	}
	if t.keys == nil {
		if t.keys, err = t.under.Bucket(clubsBucket()).CreateBucketIfNotExists(t.club); err != nil {
			return fmt.Errorf("store: beginning club %s: %w", t.club, err)
		}
	}
	t.written = append(t.written, key)
	// bbolt keeps the slice until the commit, and takes nil for absent until then: hence a copy that is never nil.
	if err := t.keys.Put([]byte(key), append([]byte{}, value...)); err != nil {
		return fmt.Errorf("store: writing %.80q (%d bytes): %w", key, len(value), err)
	}
	return nil
}

// Delete implements store.Tx.
func (t *tx) Delete(key string) error {
	if err := t.writable(key); err != nil || t.keys == nil {
		return err
	}
	t.written = append(t.written, key)
	return t.keys.Delete([]byte(key))
}

// Scan implements store.Tx.
func (t *tx) Scan(prefix, after string, visit store.Visit) error {
	return t.scan(prefix, visit, func(c *bbolt.Cursor) ([]byte, []byte, step) {
		key, value := c.Seek([]byte(max(prefix, after)))
		if after != "" && string(key) == after {
			key, value = c.Next()
		}
		return key, value, c.Next
	})
}

// ScanDown implements store.Tx.
func (t *tx) ScanDown(prefix, before string, visit store.Visit) error {
	return t.scan(prefix, visit, func(c *bbolt.Cursor) ([]byte, []byte, step) {
		first, _ := c.First()
		if first == nil {
			return nil, nil, nil // bbolt's Last would go round for ever when all was deleted in this transaction
		}
		end := successor(prefix)
		if before != "" && (end == "" || before < end) {
			end = before
		}
		key, value, last := []byte(nil), []byte(nil), end == ""
		if !last {
			key, _ = c.Seek([]byte(end))
			last = key == nil
		}
		back := func() ([]byte, []byte) {
			if bytes.Equal(key, first) {
				return nil, nil
			}
			// bbolt's Prev says nil on a page that this transaction emptied, though keys come before it.
			for key, value = c.Prev(); key == nil; {
				key, value = c.Prev()
			}
			return key, value
		}
		if last {
			key, value = c.Last()
		} else {
			key, value = back()
		}
		return key, value, back
	})
}

// step moves a cursor on; the key is nil at the end.
type step = func() (key, value []byte)

// scan visits what start finds and what follows, for as long as it begins with prefix.
func (t *tx) scan(prefix string, visit store.Visit, start func(*bbolt.Cursor) (key, value []byte, next step)) error {
	if t.over {
		return store.ErrClosed
	}
	if t.keys == nil {
		return nil
	}
	t.scans++
	defer func() { t.scans-- }()
	key, value, next := start(t.keys.Cursor())
	for ; bytes.HasPrefix(key, []byte(prefix)) && key != nil; key, value = next() {
		if err := t.ctx.Err(); err != nil {
			return err
		}
		if more, err := visit(string(key), value); err != nil || !more {
			return err
		}
	}
	return nil
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
