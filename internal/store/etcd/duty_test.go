//go:build etcd

package etcd_test

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestOneOnDuty: of three servers one is on duty, and what one writes that no longer is, is refused.
func TestOneOnDuty(t *testing.T) {
	t.Parallel()
	address, prefix := etcdtest.Shared(t)
	var on atomic.Int32
	order := make(chan int, 9)
	var ended []func()
	for i := range 3 {
		s := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix, DutyTTL: time.Second})
		within, stop := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() {
			defer close(done)
			if err := s.OnDuty(within, dutiful(t, s, i, &on, order, address, prefix)); err != nil {
				t.Error(err)
			}
		}()
		ended = append(ended, func() { stop(); <-done })
	}
	seen := map[int]bool{}
	for range ended {
		i := <-order
		if seen[i] {
			t.Fatalf("%d is on duty again, and ended", i)
		}
		seen[i] = true
		ended[i]()
	}
}

// dutiful is a duty that writes as such, finds that it cannot once its key was taken away, and ends with its context.
func dutiful(t *testing.T, s *etcd.Store, i int, on *atomic.Int32, order chan<- int, address, prefix string) func(context.Context) error {
	return func(ctx context.Context) error {
		if on.Add(1) > 1 {
			t.Error("two are on duty at once")
		}
		write := func(tx store.Tx) error { return tx.Put("written", []byte{byte(i)}) }
		if err := s.Update(ctx, "moor", write); err != nil {
			t.Errorf("on duty: %v", err)
		}
		order <- i
		<-ctx.Done()
		on.Add(-1)
		bare := etcdtest.Client(t, address)
		mine, err := bare.Get(context.Background(), prefix+"duty/", clientv3.WithFirstCreate()...)
		if err != nil || len(mine.Kvs) != 1 {
			t.Errorf("nobody is on duty: %v", err)
			return nil
		}
		if _, err := bare.Delete(context.Background(), string(mine.Kvs[0].Key)); err != nil { // as when the lease has run out
			t.Error(err)
		}
		if err := s.Update(context.WithoutCancel(ctx), "moor", write); !errors.Is(err, store.ErrOffDuty) {
			t.Errorf("no longer on duty: %v", err)
		}
		if err := s.Update(context.Background(), "moor", write); err != nil {
			t.Errorf("in nobody's name: %v", err)
		}
		return nil
	}
}
