// Package store keeps bytes under ordered keys, apart for each club, with transactions that behave as if they ran one
// after another. It knows nothing of what the bytes mean. Package bolt puts it into a file; package storetest holds any
// implementation against what is said here.
package store

import "context"

// Visit is called for each key of a scan. The value is to be read only, and only until Visit returns. The scan ends
// when more is false or err is not nil; it gives err back.
type Visit = func(key string, value []byte) (more bool, err error)

// Tx is one transaction over one club's keys. It belongs to the goroutine that it was handed to, and every method
// returns ErrClosed once the function that it was handed to has returned. Keys are ordered byte by byte.
type Tx interface {
	// Get reads one value: nil when the key is absent, not nil (but perhaps empty) when it is there. The bytes are the
	// caller's to keep and to change. It sees what the same transaction wrote.
	Get(key string) ([]byte, error)
	// Is tells whether a key is there and has that very value, for whoever has read it before: it copies nothing.
	Is(key string, value []byte) (bool, error)
	// Put writes one value and keeps a copy of it; nil is written as empty.
	Put(key string, value []byte) error
	// Delete removes one key. It is no error when the key is absent.
	Delete(key string) error
	// Scan visits the keys that begin with prefix in ascending order; with after != "" only those > after, which need
	// not exist nor begin with prefix. While a scan is under way reads and further scans are fine; Put and Delete are
	// refused with ErrScanning, so that nobody has to know what a scan makes of a key that comes or goes beneath it.
	// A scan ends with the context's error when the context ends.
	Scan(prefix, after string, visit Visit) error
	// ScanDown is Scan in descending order; with before != "" only keys < before.
	ScanDown(prefix, before string, visit Visit) error
	// Version is a number that the store has had in no other state since it was opened: in two transactions with the same
	// number, whatever is read is the same. In a transaction that may write it is 0, and says nothing.
	Version() uint64
}

// DuePrefix begins the keys that Due finds without a club being read: what is to be done by a time lies under one that has the time
// in it. The zero byte stands in none of them.
const DuePrefix = "due/"

// Due is a key that begins with DuePrefix, and the club that has it.
type Due struct{ Club, Key string }

// Store is a set of clubs with their keys. Its methods may be called from many goroutines, but not from inside a
// function that it is running: a transaction within a transaction can wait for itself.
type Store interface {
	// Update runs use in a transaction that may write. Transactions of one store are serialisable: the result is as if
	// they had run one after another. use runs in the caller's goroutine, at least once: an engine that finds that another
	// server was faster runs it again, and only the last run counts. So use must not build upon what an earlier run left in
	// variables outside it: it sets them anew. When Update returns nil, all that the last run
	// wrote is on the disk; it shares the way there with the transactions that wait beside it, and none of them is answered
	// before, be it with an error of use, which may rest on what another one wrote. When use returns an error or panics, or
	// ctx ends before use returns, nothing of it stays; the error (or the panic) is passed on as it is. When the commit
	// itself fails, the error says so to all that share it, and what was written is uncertain until it is read again. Waiting
	// for other writers ends when ctx does; ErrBusy refuses at once where too many wait.
	Update(ctx context.Context, club string, use func(Tx) error) error
	// View runs use on the club as it was at one moment, whatever is written meanwhile. Put and Delete refuse with
	// ErrReadOnly. A club that nothing was written to is empty. The moment lies between the call and its end, or before it
	// as WithAge says.
	View(ctx context.Context, club string, use func(Tx) error) error
	// Clubs lists the clubs that have at least one key, ascending.
	Clubs(ctx context.Context) ([]string, error)
	// Due lists the keys of all clubs that begin with DuePrefix, from the key from on and below the key before, in the order of
	// keys, then clubs. What Update has committed is in it. It takes what there is to list, however many clubs there are.
	Due(ctx context.Context, from, before string) ([]Due, error)
	// Watch tells that keys of a club that begin with prefix may have changed. The channel holds one wake-up: those that
	// come before it is taken join it, so that nobody waits for a watcher. Watch first and read then: what was committed
	// before is there to be read, and what is committed later wakes. A wake-up is no promise of a change. The channel is
	// closed when ctx ends or the store is closed.
	Watch(ctx context.Context, club, prefix string) (<-chan struct{}, error)
	// Scrub rewrites what the store keeps, so that nothing is left in it of what was deleted or written over. Reading goes
	// on meanwhile, writing waits. When it fails, or the machine does, all that was committed is there as before; what was
	// deleted may be left, and Scrub is to be called again.
	Scrub(ctx context.Context) error
	// OnDuty runs what one server alone is to do of all that share the store: it waits until this one is on duty, runs do, and ends
	// when ctx does, or with an error of do. The context handed to do ends when another one may be on duty; what is written
	// in an Update with that context is refused with ErrOffDuty where one is. do is run again each time that this server comes on duty.
	OnDuty(ctx context.Context, do func(context.Context) error) error
	// Close lets no further transaction in, waits for those that run or wait, and ends the store: afterwards every method
	// returns ErrClosed.
	// Closing again does nothing.
	Close() error
}
