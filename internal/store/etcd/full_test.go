//go:build etcd

package etcd_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestFull fills an etcd up to its quota. What was written can be read, also by a server that starts now; whoever writes is told that it is
// full, and nothing of that is there; the condition says so. When room was made as the doctor says, writing goes on by itself.
func TestFull(t *testing.T) {
	t.Parallel()
	const quota = 8 << 20
	cluster := etcdtest.NewCluster(t, 1, "--quota-backend-bytes", fmt.Sprint(quota))
	options := etcd.Options{Endpoints: cluster.Addresses(), TxnOps: 16, TxnBytes: 64 << 10}
	s := opened(t, options)
	must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("a", []byte("1")) }))
	look := func() etcd.Condition {
		t.Helper()
		options.Now = time.Now
		found, err := etcd.Look(t.Context(), options)
		must(t, err)
		return found
	}
	if c := look(); c.Full || c.Corrupt || c.Voting != 1 || len(c.Members) != 1 || c.Members[0].Failed != nil || c.Members[0].Quota != quota || !c.Members[0].Leads || c.Members[0].Size == 0 {
		t.Errorf("%+v", c)
	}
	if !cluster.Fill(2 * quota) {
		t.Fatal("it is not full")
	}
	for what, size := range map[string]int{"a small value": 1, "one in parts": 200 << 10} {
		for range 2 {
			if err := s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("b", make([]byte, size)) }); !errors.Is(err, store.ErrFull) {
				t.Errorf("%s: %v, want ErrFull", what, err)
			}
		}
	}
	again := opened(t, options)
	for _, one := range []*etcd.Store{s, again} {
		must(t, one.View(t.Context(), "moor", func(tx store.Tx) error {
			a, err := tx.Get("a")
			b, err2 := tx.Get("b")
			if string(a) != "1" || b != nil {
				t.Errorf("a is %q, b %d bytes", a, len(b))
			}
			return errors.Join(err, err2)
		}))
	}
	other := etcd.Options{Endpoints: cluster.Addresses(), Prefix: "new/", Now: time.Now}
	if _, err := etcd.Open(t.Context(), other); !errors.Is(err, store.ErrFull) {
		t.Errorf("a new store: %v, want ErrFull", err)
	}
	if c := look(); !c.Full || c.Members[0].Size < quota/2 {
		t.Errorf("%+v", c)
	}
	cluster.MakeRoom()
	if c := look(); c.Full {
		t.Errorf("%+v", c)
	}
	must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("b", []byte("2")) }))
}
