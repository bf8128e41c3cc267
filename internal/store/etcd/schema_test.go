//go:build etcd

package etcd_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
	pb "gritward/proto/gritward/v1"
)

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
