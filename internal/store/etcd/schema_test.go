//go:build etcd

package etcd_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
	pb "gritward/proto/gritward/v1"
)

// TestLookedAt looks at an etcd without a store: there is none afterwards.
func TestLookedAt(t *testing.T) {
	address, prefix := etcdtest.Shared(t)
	s := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix, Now: madeAt, Timeout: 10 * time.Second, ReadOnly: true})
	if clubs, err := s.Clubs(t.Context()); err != nil || len(clubs) > 0 {
		t.Errorf("it has %v, %v", clubs, err)
	}
	found, err := etcdtest.Client(t, address).Get(t.Context(), prefix, clientv3.WithPrefix())
	if err != nil || len(found.Kvs) > 0 {
		t.Errorf("after a look there are %v, %v", found.Kvs, err)
	}
}

// TestOlderSchema: a store of an older schema is taken to the newest while nobody is on duty or waits to be, and left alone otherwise.
func TestOlderSchema(t *testing.T) {
	address, prefix := etcdtest.Shared(t)
	options := etcd.Options{Endpoints: []string{address}, Prefix: prefix, Now: madeAt, Timeout: 10 * time.Second}
	_ = opened(t, options)
	client := etcdtest.Client(t, address)
	put := func(key, value string) {
		t.Helper()
		if _, err := client.Put(t.Context(), prefix+key, value); err != nil {
			t.Fatal(err)
		}
	}
	schema := func() int32 {
		t.Helper()
		found, err := client.Get(t.Context(), prefix+"info")
		info := &pb.StoreInfo{}
		if err == nil {
			err = proto.Unmarshal(found.Kvs[0].Value, info)
		}
		if err != nil {
			t.Fatal(err)
		}
		return info.Schema
	}
	older, err := proto.Marshal(&pb.StoreInfo{Schema: 2})
	if err != nil {
		t.Fatal(err)
	}
	put("info", string(older))
	reading := options
	reading.ReadOnly = true
	looked := opened(t, reading)
	if err := looked.Update(t.Context(), "fenwick", func(store.Tx) error { return nil }); !errors.Is(err, store.ErrReadOnly) || schema() != 2 {
		t.Errorf("to look at it takes it to schema %d, and a change gives %v", schema(), err)
	}
	put("duty/1", "")
	if _, err := etcd.Open(t.Context(), options); err == nil || !strings.Contains(err.Error(), "stop them all") || schema() != 2 {
		t.Errorf("opened beside an older server: %v, schema %d", err, schema())
	}
	if _, err := client.Delete(t.Context(), prefix+"duty/1"); err != nil {
		t.Fatal(err)
	}
	_ = opened(t, options)
	if got := schema(); got != etcd.Schema {
		t.Errorf("schema %d", got)
	}
}
