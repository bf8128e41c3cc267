//go:build etcd

package server_test

import (
	"log/slog"
	"testing"

	"gritward/internal/ledger"
	"gritward/internal/server"
	"gritward/internal/store/enginetest"
	"gritward/internal/store/storetest"
)

// beside is another server over the store of a world, with everything that it keeps in memory its own, for the same people.
func (w *world) beside() *world {
	w.t.Helper()
	opened := enginetest.Again(w.t, w.store, w.clock)
	records := ledger.New(storetest.Rerun(opened), w.clock)
	records.Distrust(func(key string) { w.t.Errorf("record %s is shared, and was changed", key) })
	answering, err := server.New(server.Config{Ending: w.t.Context(), RollWatch: server.NewRollWatch(), Ledger: records, PagesAddress: pages, Keys: w.keys,
		MemberID: w.memberID, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		w.t.Fatal(err)
	}
	other := &world{t: w.t, ctx: w.ctx, tokens: w.tokens, counters: server.NewCounters()}
	other.serve(answering, server.Limits{})
	w.t.Cleanup(func() {
		_ = other.conn.Close()
		answering.Stop()
		if err := opened.Close(); err != nil {
			w.t.Error(err)
		}
	})
	return other
}

// TestServersLinearizable is what one server is held to, sign-ups, roll call and publishing, over two: whichever of them answers, one
// order of the calls explains every answer.
func TestServersLinearizable(t *testing.T) {
	for what, check := range map[string]func(*testing.T, ...*world){
		"sign-ups": signupsLinearizable, "roll call": rollCallLinearizable, "publishing": publishLinearizable,
	} {
		t.Run(what, func(t *testing.T) {
			w := newWorld(t)
			people(w)
			check(t, w, w.beside())
		})
	}
}
