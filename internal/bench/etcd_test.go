//go:build etcd

package bench_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

func etcdStore(b testing.TB, cluster *etcdtest.Cluster, prefix string) *etcd.Store {
	b.Helper()
	s, err := etcd.Open(b.Context(), etcd.Options{Endpoints: cluster.Addresses(), Prefix: prefix, Now: func() time.Time { return friday }})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	return s
}

// BenchmarkEtcdSignups signs up with 256 clients at once over an etcd of one member, set up as it comes, and then has as many callers of etcd's client
// write the very bytes that came of each sign-up into the same etcd: as one value, and as a transaction of the same keys.
func BenchmarkEtcdSignups(b *testing.B) {
	cluster := etcdtest.NewCluster(b, 1)
	c := newClubIn(b, fridayClients, etcdStore(b, cluster, "bench/"), friday)
	model := c.ride("Becks", 4)
	wires := connections(b, c.address, 8)
	bare := etcdtest.Client(b, cluster.Addresses()...)
	var ours, values, keys []float64
	for b.Loop() {
		for range fridayRounds {
			made, wrote := c.signUpAll(model, fmt.Sprintf("r%d", len(ours)), wires)
			ours = append(ours, made)
			values = append(values, float64(len(wrote))/atOnce(b, fridayClients, len(wrote), func(_, i int) error {
				return putValue(bare, fmt.Sprintf("value/%d/%d", len(ours), i), wrote[i])
			}))
			keys = append(keys, float64(len(wrote))/atOnce(b, fridayClients, len(wrote), func(_, i int) error { return putKeys(bare, wrote[i]) }))
		}
	}
	reportFriday(b, "durable sign-ups on etcd, 256 clients over gRPC, beside bare puts of the same bytes, one for each", ours, values, 0.4)
	report(b, row{what: "the same, beside bare transactions of the same keys, one for each",
		ours: fmt.Sprintf("%.0f/s", median(ours[1:])), beside: fmt.Sprintf("%.0f/s", median(keys[1:])), ratio: median(ours[1:]) / median(keys[1:]), wall: true})
}

// putValue puts all bytes of a sign-up as one value.
func putValue(bare *clientv3.Client, key string, puts []put) error {
	var value []byte
	for _, one := range puts {
		value = append(append(value, one.key...), one.value...)
	}
	_, err := bare.Put(context.Background(), key, string(value))
	return err
}

// putKeys puts the keys of a sign-up in one transaction.
func putKeys(bare *clientv3.Client, puts []put) error {
	last := map[string][]byte{} // etcd takes a key once
	for _, one := range puts {
		last[one.key] = one.value
	}
	var ops []clientv3.Op
	for key, value := range last {
		ops = append(ops, clientv3.OpPut("keys/"+key, string(value)))
	}
	_, err := bare.Txn(context.Background()).Then(ops...).Commit()
	return err
}

// BenchmarkEtcdLeaderKilled kills the leader of three members, and waits until the next change is on the disk of the others.
func BenchmarkEtcdLeaderKilled(b *testing.B) {
	cluster := etcdtest.NewCluster(b, 3)
	s := etcdStore(b, cluster, "killed/")
	n := 0
	write := func() error {
		n++
		return s.Update(context.Background(), "moor", func(tx store.Tx) error { return tx.Put("k", fmt.Append(nil, n)) })
	}
	var without []float64
	for b.Loop() {
		for range 3 {
			if err := write(); err != nil {
				b.Fatal(err)
			}
			leader := cluster.Leader()
			without = append(without, took(func() {
				cluster.Kill(leader)
				for write() != nil {
				}
			}))
			cluster.Start(leader)
			if _, err := etcdtest.Client(b, cluster.Addresses()[leader]).Get(b.Context(), "any", clientv3.WithSerializable()); err != nil {
				b.Fatal(err)
			}
		}
	}
	report(b, row{what: "from the death of etcd's leader to the next change, the longest of three", ours: fmt.Sprintf("%.2g s", longest(without)), beside: "5 s",
		ratio: longest(without) / 5, reach: 1, wall: true})
}

func longest(of []float64) (most float64) {
	for _, one := range of {
		most = max(most, one)
	}
	return most
}
