//go:build etcd

package etcd_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestSilent: where etcd answers nobody, readers and writers are told that it is etcd, and not that they took too long themselves;
// who does not wait for so long is told that.
func TestSilent(t *testing.T) {
	t.Parallel()
	cluster := etcdtest.NewCluster(t, 1)
	s := opened(t, etcd.Options{Endpoints: cluster.Addresses(), Timeout: time.Second})
	must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("a", nil) }))
	reads := func(tx store.Tx) error { _, err := tx.Get("a"); return err }
	cluster.Freeze(0)
	for s.View(t.Context(), "moor", reads) == nil { // until it is
	}
	for what, do := range map[string]func(context.Context) error{
		"View":                   func(ctx context.Context) error { return s.View(ctx, "moor", reads) },
		"View of another club":   func(ctx context.Context) error { return s.View(ctx, "fell", reads) },
		"Update that only reads": func(ctx context.Context) error { return s.Update(ctx, "moor", reads) },
		"Clubs":                  func(ctx context.Context) error { _, err := s.Clubs(ctx); return err },
	} {
		if err := do(context.Background()); !errors.Is(err, store.ErrUnreachable) || errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%s: %v, want ErrUnreachable", what, err)
		}
	}
	if err := s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("b", nil) }); !errors.Is(err, store.ErrUncertain) {
		t.Errorf("a change: %v, want ErrUncertain", err)
	}
	hurried, cancel := context.WithTimeout(t.Context(), time.Millisecond)
	defer cancel()
	if err := s.View(hurried, "moor", reads); !errors.Is(err, context.DeadlineExceeded) || errors.Is(err, store.ErrUnreachable) {
		t.Errorf("View of somebody who waits a millisecond: %v, want DeadlineExceeded", err)
	}
	cluster.Thaw(0)
	must(t, s.View(t.Context(), "moor", reads))
}
