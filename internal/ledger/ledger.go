// Package ledger gives the store types: clubs, members, bikes, policies, rides, sign-ups, rosters. It moves records and
// keeps what must hold between them (names, etags, indexes); it decides nothing.
package ledger

import (
	"context"
	"errors"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// Ledger opens transactions on a store.
type Ledger struct {
	store store.Store
	now   func() time.Time
	kept  kept
}

// New puts a ledger over a store. The clock is asked once a transaction.
func New(s store.Store, now func() time.Time) *Ledger { return &Ledger{store: s, now: now} }

// Now is the ledger's clock.
func (l *Ledger) Now() time.Time { return l.now() }

// Tx is one transaction over one club.
type Tx struct {
	tx noted
	// Club is the id of the club.
	Club string
	// Now is the time of the transaction: one for all that it writes.
	Now  time.Time
	kept *kept
}

// Stamp is the time of the transaction, for a record.
func (t *Tx) Stamp() *timestamppb.Timestamp { return timestamppb.New(t.Now) }

// Version is that of the store: with the same one that is not 0, whatever is read is the same.
func (t *Tx) Version() uint64 { return t.tx.Version() }

// Update runs use in a transaction that writes. Nothing of it stays when it fails.
func (l *Ledger) Update(ctx context.Context, club string, use func(*Tx) error) error {
	return told(l.store.Update(ctx, club, func(tx store.Tx) error { return l.run(tx, club, use) }))
}

// View runs use in a transaction that reads.
func (l *Ledger) View(ctx context.Context, club string, use func(*Tx) error) error {
	return told(l.store.View(ctx, club, func(tx store.Tx) error { return l.run(tx, club, use) }))
}

func (l *Ledger) run(tx store.Tx, club string, use func(*Tx) error) error {
	t := &Tx{tx: noted{Tx: tx}, Club: club, Now: l.now(), kept: &l.kept}
	defer t.tx.noting()()
	return use(t)
}

// told makes of the store's own refusals what a caller can do something about.
func told(err error) error {
	var damaged *store.DamagedError
	switch {
	case errors.As(err, &damaged):
		return &fault.Error{Reason: pb.Reason_STORE_DAMAGED, Message: "the server's store is damaged, and nothing is served from it; whoever runs the server finds in its log what to do", Cause: err}
	case errors.Is(err, store.ErrBusy):
		return &fault.Error{Reason: pb.Reason_BUSY, Message: "too many changes wait to be written; nothing of this one was done, try again in a moment", Cause: err}
	case errors.Is(err, store.ErrUnreachable):
		return &fault.Error{Reason: pb.Reason_UNAVAILABLE, Message: "what keeps the server's store does not answer; nothing of this call was done, try again in a moment", Cause: err}
	case errors.Is(err, store.ErrFull):
		return &fault.Error{Reason: pb.Reason_STORE_FULL, Message: "what keeps the server's store is full: nothing of this call was done, and nothing can be changed until whoever runs the server makes room; reading goes on", Cause: err}
	case errors.Is(err, store.ErrUncertain):
		return &fault.Error{Reason: pb.Reason_UNAVAILABLE, Message: "what keeps the server's store did not answer in time, and whether this call was done is not known; look before you do it again", Cause: err}
	case errors.Is(err, store.ErrClosed):
		return &fault.Error{Reason: pb.Reason_UNAVAILABLE, Message: "the server is stopping; nothing of this call was done, try again in a minute", Cause: err}
	}
	return err
}

// Clubs lists the ids of all clubs.
func (l *Ledger) Clubs(ctx context.Context) ([]string, error) {
	clubs, err := l.store.Clubs(ctx)
	return clubs, told(err)
}
