//go:build etcd

package etcd_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"gritward/internal/dial/dialtest"
	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestRunMeanwhile has a commit on its way to etcd while two more callers run on what it makes, and another server writes to the same club,
// or does not. Where it does, the commit comes too late, and all three are run again: in their order, each once. Else each runs once.
func TestRunMeanwhile(t *testing.T) {
	const keys, size, names = 10, 1 << 10, "abc"
	for what, rival := range map[string]bool{"nobody else": false, "another server": true} {
		t.Run(what, func(t *testing.T) {
			address, prefix := etcdtest.Shared(t)
			proxy := dialtest.NewProxy(t, address)
			s := opened(t, etcd.Options{Endpoints: []string{proxy.Address}, Prefix: prefix})
			other := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix})
			var runs atomic.Int64
			log := func(s store.Store, name string, ran func()) error {
				return s.Update(t.Context(), "moor", func(tx store.Tx) error {
					defer ran()
					runs.Add(1)
					before, err := tx.Get("log")
					if err != nil || bytes.Contains(before, []byte(name)) {
						return fmt.Errorf("%s is there already: %s, %v", name, before, err)
					}
					for i := range keys - 1 {
						err = errors.Join(err, tx.Put(fmt.Sprint("own/", name, i), bytes.Repeat([]byte(name), size)))
					}
					if err != nil {
						return err
					}
					return tx.Put("log", append(before, name...))
				})
			}
			must(t, log(s, ".", func() {}))
			proxy.Hold()
			var writers sync.WaitGroup
			for _, name := range strings.Split(names, "") {
				ran := make(chan struct{})
				writers.Go(func() {
					if err := log(s, name, sync.OnceFunc(func() { close(ran) })); err != nil {
						t.Error(err)
					}
				})
				<-ran
			}
			proxy.AwaitKept((keys - 1) * size)
			want, times, late := "."+names, 1+len(names), int64(0)
			if rival {
				must(t, log(other, "!", func() {}))
				want, times, late = ".!"+names, 1+1+2*len(names), 1
			}
			proxy.Release()
			writers.Wait()
			if lost, ran := s.Lost(), runs.Load(); lost != late || ran != int64(times) {
				t.Errorf("%d commits came too late, want %d, and %d runs, want %d", lost, late, ran, times)
			}
			for _, one := range []store.Store{s, other} {
				must(t, one.View(t.Context(), "moor", func(tx store.Tx) error {
					var own []string
					if err := tx.Scan("own/", "", func(key string, _ []byte) (bool, error) { own = append(own, key); return true, nil }); err != nil {
						return err
					}
					got, err := tx.Get("log")
					if string(got) != want || len(own) != (keys-1)*len(want) || !slices.IsSorted(own) {
						t.Errorf("the log is %s, want %s, with %d keys beside it", got, want, len(own))
					}
					return err
				}))
			}
		})
	}
}
