package ledger_test

import (
	"context"
	"path/filepath"
	"testing"

	"gritward/internal/ledger"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// TestBusyAndClosed: who finds too many waiting, or the store closed, hears what to do, and that nothing was done.
func TestBusyAndClosed(t *testing.T) {
	b := open(t)
	under, err := bolt.Open(bolt.Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: b.ledger.Now, WaitingLimit: 1})
	if err != nil {
		t.Fatal(err)
	}
	l := ledger.New(under, b.ledger.Now)
	held, free, ended := make(chan struct{}), make(chan struct{}), make(chan error, 3)
	go func() {
		ended <- l.Update(context.Background(), club, func(*ledger.Tx) error { close(held); <-free; return nil })
	}()
	<-held
	for range 2 { // one waits, and the other is one too many
		go func() { ended <- l.Update(context.Background(), club, func(*ledger.Tx) error { return nil }) }()
	}
	wantFault(t, <-ended, pb.Reason_BUSY, "too many changes wait to be written; nothing of this one was done, try again in a moment")
	close(free)
	for range 2 {
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	if err := under.Close(); err != nil {
		t.Error(err)
	}
	for name, run := range map[string]func(context.Context, string, func(*ledger.Tx) error) error{"Update": l.Update, "View": l.View} {
		t.Run(name, func(t *testing.T) {
			err := run(t.Context(), club, func(*ledger.Tx) error { t.Error("it ran"); return nil })
			wantFault(t, err, pb.Reason_UNAVAILABLE, "the server is stopping; nothing of this call was done, try again in a minute")
		})
	}
}
