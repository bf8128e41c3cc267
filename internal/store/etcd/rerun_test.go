//go:build etcd

package etcd_test

import (
	"context"
	"crypto/rand"
	"strings"
	"sync"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
	"gritward/internal/store/storetest"
)

// TestConformanceRacing runs the suite while somebody else moves the versions of all clubs on, so that every transaction may lose
// its race, and with requests so small that whatever is written lies apart, or takes several of them.
func TestConformanceRacing(t *testing.T) {
	t.Parallel()
	var mu sync.Mutex
	prefixes := map[string]string{}
	var lost int64
	storetest.Run(t, func(t *testing.T) store.Store {
		mu.Lock()
		defer mu.Unlock()
		address, fresh := etcdtest.Shared(t)
		if prefixes[t.Name()] == "" {
			prefixes[t.Name()] = fresh
			if !strings.HasSuffix(t.Name(), "/version") { // which looks at what stays while nothing is written
				race(t, etcdtest.Client(t, address), fresh)
			}
		}
		s := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefixes[t.Name()], TxnOps: 16, TxnBytes: 64 << 10})
		t.Cleanup(func() { mu.Lock(); defer mu.Unlock(); lost += s.Lost() })
		return s
	})
	if lost == 0 {
		t.Error("no transaction ever lost a race: nothing was tried")
	}
}

// race gives every club a new version again and again, until the test ends; what is pending stays so.
func race(t *testing.T, client *clientv3.Client, prefix string) {
	ctx, stop := context.WithCancel(context.Background())
	var ended sync.WaitGroup
	ended.Go(func() {
		for ctx.Err() == nil {
			found, err := client.Get(ctx, prefix+"clubs/", clientv3.WithPrefix())
			if err != nil {
				continue
			}
			for _, kv := range found.Kvs {
				if !strings.HasSuffix(string(kv.Key), "/version") {
					continue
				}
				_, rest, _ := strings.Cut(string(kv.Value), " ")
				if rest != "packs/" {
					continue // something is pending: it is given one when that is carried out
				}
				_, _ = client.Txn(ctx).If(clientv3.Compare(clientv3.ModRevision(string(kv.Key)), "=", kv.ModRevision)).
					Then(clientv3.OpPut(string(kv.Key), rand.Text()+" "+rest)).Commit()
			}
			time.Sleep(3 * time.Millisecond) // of a rival, not for a result
		}
	})
	t.Cleanup(func() { stop(); ended.Wait() })
}
