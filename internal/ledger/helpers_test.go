package ledger_test

import (
	"path/filepath"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

const club = "moor"

// book is a ledger over a store in a file of its own, with a clock that the test sets.
type book struct {
	testing.TB
	ledger *ledger.Ledger
	store  store.Store
	path   string
	now    time.Time
}

func open(t testing.TB) *book {
	t.Helper()
	b := &book{TB: t, path: filepath.Join(t.TempDir(), "club.db"), now: time.Date(2026, 12, 1, 8, 0, 0, 0, time.UTC)}
	under, err := bolt.Open(bolt.Options{Path: b.path, Now: func() time.Time { return b.now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := under.Close(); err != nil {
			t.Error(err)
		}
	})
	b.store, b.ledger = under, ledger.New(under, func() time.Time { return b.now })
	return b
}

// write runs use in a transaction that must succeed.
func (b *book) write(use func(*ledger.Tx) error) {
	b.Helper()
	if err := b.ledger.Update(b.Context(), club, use); err != nil {
		b.Fatal(err)
	}
}

// refused runs use in a transaction that must fail, and gives back its error.
func (b *book) refused(use func(*ledger.Tx) error) error {
	b.Helper()
	err := b.ledger.Update(b.Context(), club, use)
	if err == nil {
		b.Fatal("it was let pass")
	}
	return err
}

// read runs use in a transaction that reads and must succeed.
func (b *book) read(use func(*ledger.Tx) error) {
	b.Helper()
	if err := b.ledger.View(b.Context(), club, use); err != nil {
		b.Fatal(err)
	}
}

// raw writes bytes under a key, past the ledger.
func (b *book) raw(key string, value []byte) {
	b.Helper()
	err := b.store.Update(b.Context(), club, func(tx store.Tx) error { return tx.Put(key, value) })
	if err != nil {
		b.Fatal(err)
	}
}

// keys lists what lies in the club's store below prefix.
func (b *book) keys(prefix string) (keys []string, values [][]byte) {
	b.Helper()
	err := b.store.View(b.Context(), club, func(tx store.Tx) error {
		return tx.Scan(prefix, "", func(key string, value []byte) (bool, error) {
			keys, values = append(keys, key), append(values, append([]byte{}, value...))
			return true, nil
		})
	})
	if err != nil {
		b.Fatal(err)
	}
	return keys, values
}

// wantFault holds an error against a reason and a message.
func wantFault(t *testing.T, err error, reason pb.Reason, message string) {
	t.Helper()
	if !fault.Is(err, reason) || err.Error() != message {
		t.Errorf("got  %v\nwant %s %s", err, reason, message)
	}
}

// collect is a visit that keeps what it sees.
func collect[T proto.Message](into *[]T) func(T) error {
	return func(record T) error {
		*into = append(*into, record)
		return nil
	}
}
