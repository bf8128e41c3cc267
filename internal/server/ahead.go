package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/store"
)

// Ahead makes anew, in the pauses between calls, what was asked for a moment ago and has changed since, so that the next page finds it made: it
// lies where calls keep it, by all that it depends on. Nothing is made for a club at which nobody looks. Choices of this program:
const (
	// mostWanted is how many answers are kept an eye on.
	mostWanted = 24
	// mostUnasked is how often one is made anew without anybody asking for it.
	mostUnasked = 10
	// wantedFor is how long after somebody asked for it.
	wantedFor = 10 * time.Minute
	// atHand is how old the state of a store on other machines may be that is looked at, so that they are not asked in every pause.
	atHand = wantedFor
)

// Ahead is what is made anew in pauses; server.New gives it what it makes.
type Ahead struct {
	desk *desk
	log  *slog.Logger
	mu   sync.Mutex
	// wants are those that were asked for, the last one last.
	wants []*want
}

// want is something that was asked for.
type want struct {
	club, what string
	// make makes it where it is not there.
	make func(context.Context, *ledger.Tx) error
	// at is when it was asked for last, version what the store then was or when it was made since, and unasked how often that was.
	at      time.Time
	version uint64
	unasked int
	// entries is how long the club's audit log was when it was made in a pause; 0: it was not.
	entries int64
}

// NewAhead makes one that makes nothing yet.
func NewAhead() *Ahead { return &Ahead{} }

func (a *Ahead) join(d *desk, log *slog.Logger) { a.desk, a.log = d, log }

// asked notes that a call asked for something, and how it is made. Without an Ahead nothing is noted.
func (a *Ahead) asked(tx *ledger.Tx, what string, make func(context.Context, *ledger.Tx) error) {
	if a == nil || tx.Version() == 0 {
		return
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	a.wants = slices.DeleteFunc(a.wants, func(w *want) bool { return w.club == tx.Club && w.what == what })
	if len(a.wants) == mostWanted {
		a.wants = slices.Delete(a.wants, 0, 1)
	}
	a.wants = append(a.wants, &want{club: tx.Club, what: what, make: make, at: tx.Now, version: tx.Version()})
}

// Do makes anew what has changed, what was asked for last first, until the context ends. What goes wrong is logged, and left to whoever asks next.
func (a *Ahead) Do(ctx context.Context) {
	a.mu.Lock()
	wants := slices.Clone(a.wants)
	a.mu.Unlock()
	slices.Reverse(wants)
	for _, w := range wants {
		err := a.remake(ctx, w)
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			a.drop(w)
		}
		var known *fault.Error // such as that the ride is under way by now
		if err != nil && !errors.As(err, &known) {
			a.log.Error("what the next page would show could not be made ahead of it", "club", w.club, "what", w.what, "error", err)
		}
	}
}

// remake makes something anew if the store has changed.
func (a *Ahead) remake(ctx context.Context, w *want) (err error) {
	defer func() {
		if cause := recover(); cause != nil {
			err = fmt.Errorf("panic: %v\n%s", cause, debug.Stack())
		}
	}()
	return a.desk.ledger.View(store.WithAge(ctx, atHand), w.club, func(tx *ledger.Tx) error {
		if a.isMade(w, tx) {
			return nil
		}
		head, err := tx.AuditHead() // each change leaves an entry; the version goes on with what other clubs of the store write, too
		if err != nil {
			return err
		}
		if a.others(w, tx, head.Number) {
			return nil
		}
		if err := w.make(ctx, tx); err != nil || ctx.Err() != nil {
			return errors.Join(err, ctx.Err())
		}
		a.made(w, tx, head.Number)
		return nil
	})
}

// isMade tells whether nothing has changed since something was made; what nobody asks for any more counts as made, and goes.
func (a *Ahead) isMade(w *want, tx *ledger.Tx) bool {
	if tx.Now.Sub(w.at) > wantedFor {
		a.drop(w)
		return true
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	return w.version == tx.Version()
}

// others tells whether since something was made nobody but other clubs wrote anything.
func (a *Ahead) others(w *want, tx *ledger.Tx, entries int64) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	if entries == 0 || w.entries != entries {
		return false
	}
	w.version = tx.Version()
	return true
}

// made notes that something was made, with that many entries in the audit log.
func (a *Ahead) made(w *want, tx *ledger.Tx, entries int64) {
	a.mu.Lock()
	w.version, w.entries = tx.Version(), entries
	w.unasked++
	enough := w.unasked >= mostUnasked
	a.mu.Unlock()
	if enough {
		a.drop(w)
	}
}

func (a *Ahead) drop(w *want) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.wants = slices.DeleteFunc(a.wants, func(one *want) bool { return one == w })
}
