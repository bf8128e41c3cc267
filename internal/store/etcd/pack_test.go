//go:build etcd

package etcd_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"strings"
	"testing"

	clientv3 "go.etcd.io/etcd/client/v3"
	"pgregory.net/rapid"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// below counts the keys that etcd has below a prefix, and finds which of them hold a text.
func below(t testing.TB, client *clientv3.Client, prefix, text string) (count int, with []string) {
	t.Helper()
	found, err := client.Get(context.Background(), prefix, clientv3.WithPrefix())
	if err != nil {
		t.Fatal(err)
	}
	for _, kv := range found.Kvs {
		if strings.Contains(string(kv.Value), text) {
			with = append(with, string(kv.Key))
		}
	}
	return len(found.Kvs), with
}

// shows are all records of a club, as a store shows them.
func shows(t testing.TB, s store.Store, club string) map[string]string {
	t.Helper()
	all := map[string]string{}
	if err := s.View(context.Background(), club, func(tx store.Tx) error {
		clear(all)
		return tx.Scan("", "", func(key string, value []byte) (bool, error) { all[key] = string(value); return true, nil })
	}); err != nil {
		t.Fatal(err)
	}
	return all
}

// TestPacks makes records together, and then changes and deletes them: what is changed or deleted lies in no pack any more, and what
// is left does. The server that did it, one that watches, and one that is started then show the same.
func TestPacks(t *testing.T) {
	const records = 100
	address, prefix := etcdtest.Shared(t)
	client, options := etcdtest.Client(t, address), etcd.Options{Endpoints: []string{address}, Prefix: prefix}
	s, watching := opened(t, options), opened(t, options)
	packs, keys := prefix+"clubs/moor/packs/", prefix+"clubs/moor/keys/"
	want := map[string]string{}
	write := func(what string, use func(int, store.Tx) error) {
		t.Helper()
		must(t, s.Update(t.Context(), "moor", func(tx store.Tx) (err error) {
			for i := range records {
				err = errors.Join(err, use(i, tx))
			}
			return err
		}))
		for who, one := range map[string]store.Store{"the server": s, "who watches": watching, "who is new": opened(t, options)} {
			if got := shows(t, one, "moor"); !maps.Equal(got, want) {
				t.Fatalf("%s: %s shows %v, want %v", what, who, got, want)
			}
		}
	}
	put := func(tx store.Tx, i int, value string) error {
		key := fmt.Sprintf("bike/%03d", i)
		want[key] = value
		return tx.Put(key, []byte(value))
	}
	write("made", func(i int, tx store.Tx) error {
		return put(tx, i, fmt.Sprintf("before%03d", i)+strings.Repeat(".", 100))
	})
	made, _ := below(t, client, packs, "")
	alone, _ := below(t, client, keys, "")
	if made < 2 || made > records/20 || alone > 0 {
		t.Errorf("%d records lie in %d packs, and %d alone", records, made, alone)
	}
	write("one changed, one deleted", func(i int, tx store.Tx) error {
		switch i {
		case 7:
			return put(tx, i, "after")
		case 8:
			delete(want, "bike/008")
			return tx.Delete("bike/008")
		}
		return nil
	})
	for text, where := range map[string]int{"before007": 0, "before008": 0, "after": 1, "before009": 1} {
		if _, with := below(t, client, prefix, text); len(with) != where {
			t.Errorf("%s lies in %v", text, with)
		}
	}
	write("every other deleted", func(i int, tx store.Tx) error {
		if i%2 > 0 {
			return nil
		}
		delete(want, fmt.Sprintf("bike/%03d", i))
		return tx.Delete(fmt.Sprintf("bike/%03d", i))
	})
	if left, _ := below(t, client, packs, ""); left != made {
		t.Errorf("%d packs became %d", made, left)
	}
	write("all deleted", func(i int, tx store.Tx) error {
		clear(want)
		return tx.Delete(fmt.Sprintf("bike/%03d", i))
	})
	if left, _ := below(t, client, prefix+"clubs/moor/", ""); left != 1 {
		t.Errorf("of a club without records %d keys are left, want its version alone", left)
	}
}

// TestPacksAgainstModel writes, changes and deletes records of all sizes through two servers by turns, one with requests as small as can
// be, so that much of it is carried out afterwards, and holds what both and a new one show against a map.
func TestPacksAgainstModel(t *testing.T) {
	address, prefix := etcdtest.Shared(t)
	small := etcd.Options{Endpoints: []string{address}, Prefix: prefix, TxnOps: 16, TxnBytes: 64 << 10}
	large := etcd.Options{Endpoints: []string{address}, Prefix: prefix}
	servers := []store.Store{opened(t, small), opened(t, large)}
	run := 0
	rapid.Check(t, func(r *rapid.T) {
		run++
		club, model := fmt.Sprint("club", run), map[string]string{}
		for range rapid.IntRange(1, 6).Draw(r, "transactions") {
			next := maps.Clone(model)
			changes := rapid.MapOfN(rapid.StringMatching(`(bike|due|ride)/[a-d][0-9]`), rapid.IntRange(-1, 1200), 1, 60).Draw(r, "changes")
			for key, size := range changes {
				if delete(next, key); size >= 0 {
					next[key] = strings.Repeat("v", size) + fmt.Sprint(run)
				}
			}
			if err := rapid.SampledFrom(servers).Draw(r, "server").Update(context.Background(), club, func(tx store.Tx) (err error) {
				for key := range changes {
					if value, there := next[key]; there {
						err = errors.Join(err, tx.Put(key, []byte(value)))
					} else {
						err = errors.Join(err, tx.Delete(key))
					}
				}
				return err
			}); err != nil {
				r.Fatal(err)
			}
			model = next
		}
		started, err := etcd.Open(context.Background(), etcd.Options{Endpoints: []string{address}, Prefix: prefix, Now: madeAt})
		if err != nil {
			r.Fatal(err)
		}
		defer func() { _ = started.Close() }()
		for who, one := range []store.Store{servers[0], servers[1], started} {
			if got := shows(t, one, club); !maps.Equal(got, model) {
				r.Fatalf("server %d shows %v, want %v", who, got, model)
			}
		}
	})
}
