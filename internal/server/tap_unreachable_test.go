package server_test

import (
	"context"
	"log/slog"
	"sync/atomic"
	"testing"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/server"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// silent is a store whose machines do not answer while it is on.
type silent struct {
	store.Store
	on    atomic.Bool
	asked atomic.Int64
}

func (s *silent) View(ctx context.Context, club string, use func(store.Tx) error) error {
	if s.on.Load() {
		s.asked.Add(1)
		return store.ErrUnreachable
	}
	return s.Store.View(ctx, club, use)
}

// TestTapAsksSilentStoreOnce: gRPC waits for the tap with all calls of the connection, so that a store that does not answer is waited for
// once.
func TestTapAsksSilentStoreOnce(t *testing.T) {
	w := newWorld(t)
	quiet := &silent{Store: w.store}
	answering, err := server.New(server.Config{Ending: t.Context(), RollWatch: server.NewRollWatch(), Ledger: ledger.New(quiet, w.clock), PagesAddress: pages,
		Keys: w.keys, MemberID: w.memberID, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	other := &world{t: t, ctx: w.ctx, tokens: w.tokens, counters: server.NewCounters()}
	other.serve(answering, server.Limits{})
	t.Cleanup(func() { _ = other.conn.Close(); answering.Stop() })
	if _, err := other.clubs.WhoAmI(w.as("sec"), &pb.WhoAmIRequest{}); err != nil {
		t.Fatal(told(err))
	}
	quiet.on.Store(true)
	_, err = other.clubs.WhoAmI(w.as("sec"), &pb.WhoAmIRequest{})
	if got := fault.Read(err); got == nil || got.Reason != pb.Reason_UNAVAILABLE {
		t.Errorf("a silent store is told as %v", err)
	}
	if asked := quiet.asked.Load(); asked != 1 {
		t.Errorf("the silent store was waited for %d times in one call", asked)
	}
}
