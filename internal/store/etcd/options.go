package etcd

import (
	"crypto/tls"
	"errors"
	"strings"
	"time"

	"gritward/internal/store"
)

// What is taken where Options say nothing.
const (
	// DefaultPrefix is what the names of all keys begin with.
	DefaultPrefix = "gritward/"
	// DefaultTimeout is for how long etcd is waited for.
	DefaultTimeout = 5 * time.Second
	// DefaultTxnOps and DefaultTxnBytes are what etcd takes in one request unless it is set up otherwise: its --max-txn-ops, and
	// its --max-request-bytes of 1.5 MiB with something left for what a request has besides keys and values.
	// https://etcd.io/docs/v3.4/op-guide/configuration/
	DefaultTxnOps   = 128
	DefaultTxnBytes = 1280 << 10
	// DefaultMirrorBytes is how much of the clubs is kept in memory, about, before those are let go that nobody uses.
	DefaultMirrorBytes = 512 << 20
	// DefaultWaitingLimit is how many transactions may wait to write, over all clubs.
	DefaultWaitingLimit = 4096
	// DutyTTL is for how long a server that is gone is taken to be on duty, at most.
	DutyTTL = 5 * time.Second
)

// Options says which etcd keeps the store and how.
type Options struct {
	// Endpoints are the addresses of etcd's members, host:port or as URLs.
	Endpoints []string
	// TLS is the way to them; nil: in the open.
	TLS *tls.Config
	// Prefix is what the names of all keys of the store begin with; "" means DefaultPrefix.
	Prefix string
	// Timeout is for how long one use of etcd may take, its members being tried in turn; 0 means DefaultTimeout.
	Timeout time.Duration
	// TxnOps and TxnBytes bound one request; 0 means the defaults above.
	TxnOps, TxnBytes int
	// MirrorBytes bounds what is kept in memory of clubs that nobody watches; 0 means DefaultMirrorBytes.
	MirrorBytes int64
	// WaitingLimit is how many transactions may wait to write, beyond which store.ErrBusy refuses; 0 means DefaultWaitingLimit.
	WaitingLimit int
	// DutyTTL is the least lease of who is on duty, whole seconds; 0 means DutyTTL.
	DutyTTL time.Duration
	// Now is the clock, for the time at which a store is made.
	Now func() time.Time
	// Observer hears how the store does.
	Observer store.Observer
	// Moving opens a store that a move into it left unfinished.
	Moving bool
	// ReadOnly writes nothing: one that is not there is empty, one of an older schema stays as it is, and an Update is refused with
	// store.ErrReadOnly.
	ReadOnly bool
}

func (o Options) filled() (Options, error) {
	if len(o.Endpoints) == 0 || o.Now == nil {
		return o, errors.New("store: Options needs Endpoints and Now")
	}
	set(&o.Prefix, DefaultPrefix)
	if !strings.HasSuffix(o.Prefix, "/") {
		o.Prefix += "/"
	}
	set(&o.Timeout, DefaultTimeout)
	set(&o.TxnOps, DefaultTxnOps)
	set(&o.TxnBytes, DefaultTxnBytes)
	set(&o.MirrorBytes, DefaultMirrorBytes)
	set(&o.WaitingLimit, DefaultWaitingLimit)
	set(&o.DutyTTL, DutyTTL)
	if o.TxnOps < leastOps || o.TxnBytes < leastBytes {
		return o, errors.New("store: a request of etcd must take 16 operations and 64 KiB at least")
	}
	return o, nil
}

// leastOps and leastBytes leave room for one change beside what every request has.
const (
	leastOps   = 16
	leastBytes = 64 << 10
)

func set[T comparable](option *T, value T) {
	var zero T
	if *option == zero {
		*option = value
	}
}
