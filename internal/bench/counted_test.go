package bench_test

import (
	"context"
	"sync/atomic"

	"gritward/internal/store"
)

// counted is a store that counts what is read of it, and keeps what each transaction writes while somebody asks for it.
type counted struct {
	store.Store
	// reads counts the records that were got or visited.
	reads atomic.Int64
	// writes keeps what is written; nil: nothing.
	writes atomic.Pointer[held]
}

// Update implements store.Store.
func (c *counted) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	keep := c.writes.Load()
	var puts []put
	err := c.Store.Update(ctx, club, func(tx store.Tx) error {
		puts = nil // of a run that did not count
		under := &countedTx{Tx: tx, reads: &c.reads}
		if keep != nil {
			under.puts = &puts
		}
		return use(under)
	})
	if err == nil && len(puts) > 0 {
		keep.keep(puts)
	}
	return err
}

// View implements store.Store.
func (c *counted) View(ctx context.Context, club string, use func(store.Tx) error) error {
	return c.Store.View(ctx, club, func(tx store.Tx) error { return use(&countedTx{Tx: tx, reads: &c.reads}) })
}

type countedTx struct {
	store.Tx
	reads *atomic.Int64
	puts  *[]put
}

func (t *countedTx) Is(key string, value []byte) (bool, error) {
	t.reads.Add(1)
	return t.Tx.Is(key, value)
}

func (t *countedTx) Get(key string) ([]byte, error) {
	t.reads.Add(1)
	return t.Tx.Get(key)
}

func (t *countedTx) Put(key string, value []byte) error {
	if t.puts != nil {
		*t.puts = append(*t.puts, put{key, append([]byte{}, value...)})
	}
	return t.Tx.Put(key, value)
}

func (t *countedTx) Scan(prefix, after string, visit store.Visit) error {
	return t.Tx.Scan(prefix, after, t.seen(visit))
}

func (t *countedTx) ScanDown(prefix, before string, visit store.Visit) error {
	return t.Tx.ScanDown(prefix, before, t.seen(visit))
}

func (t *countedTx) seen(visit store.Visit) store.Visit {
	return func(key string, value []byte) (bool, error) {
		t.reads.Add(1)
		return visit(key, value)
	}
}
