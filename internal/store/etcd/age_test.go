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

// TestViewWithAge: who takes what was the newest a while ago is answered without etcd, and sees all that the same server has committed
// and shown; who does not is told that etcd cannot be reached.
func TestViewWithAge(t *testing.T) {
	t.Parallel()
	cluster := etcdtest.NewCluster(t, 1)
	s := opened(t, etcd.Options{Endpoints: cluster.Addresses(), Timeout: time.Second})
	other := opened(t, etcd.Options{Endpoints: cluster.Addresses()})
	put := func(s store.Store, value string) {
		must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("k", []byte(value)) }))
	}
	seen := func(ctx context.Context, club string) (value string, err error) {
		err = s.View(ctx, club, func(tx store.Tx) error {
			got, err := tx.Get("k")
			value = string(got)
			return err
		})
		return value, err
	}
	hour := store.WithAge(t.Context(), time.Hour)
	put(other, "theirs")
	if got, err := seen(hour, "moor"); err != nil || got != "theirs" {
		t.Errorf("the first look shows %q, %v", got, err)
	}
	put(other, "newer")
	if got, err := seen(t.Context(), "moor"); err != nil || got != "newer" {
		t.Errorf("the newest is %q, %v", got, err)
	}
	if got, err := seen(hour, "moor"); err != nil || got != "newer" {
		t.Errorf("an older state is shown than before: %q, %v", got, err)
	}
	put(s, "mine")
	cluster.Freeze(0)
	for err := error(nil); err == nil; { // until it is
		_, err = seen(t.Context(), "moor")
	}
	if got, err := seen(hour, "moor"); err != nil || got != "mine" {
		t.Errorf("what was committed is not shown: %q, %v", got, err)
	}
	for what, ctx := range map[string]context.Context{"no age": t.Context(), "a nanosecond": store.WithAge(t.Context(), time.Nanosecond)} {
		if _, err := seen(ctx, "moor"); !errors.Is(err, store.ErrUnreachable) {
			t.Errorf("with %s: %v", what, err)
		}
	}
	if _, err := seen(hour, "fell"); !errors.Is(err, store.ErrUnreachable) {
		t.Errorf("a club that was never read: %v", err)
	}
	cluster.Thaw(0)
}
