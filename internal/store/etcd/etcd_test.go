//go:build etcd

package etcd_test

import (
	"sync"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
	"gritward/internal/store/storetest"
)

// madeAt is the time at which every store of these tests is made.
func madeAt() time.Time { return time.Date(2031, 11, 8, 9, 30, 0, 0, time.UTC) }

func TestConformance(t *testing.T) {
	t.Parallel()
	var mu sync.Mutex
	prefixes := map[string]string{}
	storetest.Run(t, func(t *testing.T) store.Store {
		mu.Lock()
		defer mu.Unlock()
		address, fresh := etcdtest.Shared(t)
		if prefixes[t.Name()] == "" {
			prefixes[t.Name()] = fresh
		}
		return opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefixes[t.Name()]})
	})
}

func opened(t testing.TB, options etcd.Options) *etcd.Store {
	t.Helper()
	options.Now = madeAt
	s, err := etcd.Open(t.Context(), options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}
