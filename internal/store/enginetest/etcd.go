//go:build etcd

package enginetest

import (
	"context"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// Many says that several servers may have a store open at once.
const Many = true

// Open makes a new store for a test, in a file where that is the engine. Whoever opens it closes it.
func Open(t testing.TB, _ string, now func() time.Time) store.Store {
	t.Helper()
	address, prefix := etcdtest.Shared(t)
	return open(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix, Now: now})
}

// Again opens a store once more, as another server does.
func Again(t testing.TB, s store.Store, now func() time.Time) store.Store {
	t.Helper()
	options := s.(*etcd.Store).Options
	options.Now = now
	return open(t, options)
}

func open(t testing.TB, options etcd.Options) store.Store {
	t.Helper()
	s, err := etcd.Open(context.Background(), options)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Raw is what etcd tells of a store, byte by byte. What its files keep is looked at by the tests of the engine.
func Raw(t testing.TB, s store.Store, _ string) (data []byte) {
	t.Helper()
	options := s.(*etcd.Store).Options
	found, err := etcdtest.Client(t, options.Endpoints...).Get(context.Background(), options.Prefix, clientv3.WithPrefix())
	if err != nil {
		t.Fatal(err)
	}
	for _, kv := range found.Kvs {
		data = append(append(append(append(data, kv.Key...), '\n'), kv.Value...), '\n')
	}
	return data
}
