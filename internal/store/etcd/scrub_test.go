//go:build etcd

package etcd_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestScrubbed greps etcd's own file for what was written over and deleted.
func TestScrubbed(t *testing.T) {
	address, prefix := etcdtest.Shared(t)
	s := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix})
	const secret = "quiet lanes of Marrowdale"
	large := []byte(strings.Repeat(secret, 40_000)) // in parts
	for _, write := range []func(store.Tx) error{
		func(tx store.Tx) error { return tx.Put("small", []byte(secret)) },
		func(tx store.Tx) error { // in a pack
			return errors.Join(tx.Put("packed/1", []byte(secret)), tx.Put("packed/2", []byte(secret)), tx.Put("packed/3", []byte("what is kept in a pack")))
		},
		func(tx store.Tx) error { return tx.Put("large", large) },
		func(tx store.Tx) error { return tx.Put("kept", []byte("what is kept")) },
	} {
		must(t, s.Update(t.Context(), "moor", write))
	}
	bare := etcdtest.Client(t, address)
	if _, err := bare.Put(t.Context(), prefix+"clubs/moor/parts/LEFT/0000", secret); err != nil { // as of a server that was killed
		t.Fatal(err)
	}
	if _, err := s.Clubs(t.Context()); err != nil {
		t.Fatal(err)
	}
	snapshot, err := bare.Snapshot(t.Context()) // etcd writes to its file now and then, and before this
	must(t, err)
	_, err = io.Copy(io.Discard, snapshot)
	must(t, errors.Join(err, snapshot.Close()))
	if !strings.Contains(string(fileOf(t)), secret) {
		t.Fatal("it is not in the file before: this test shows nothing")
	}
	must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error {
		return errors.Join(tx.Delete("large"), tx.Delete("packed/1"), tx.Put("packed/2", nil), tx.Put("small", []byte("something else")))
	}))
	must(t, s.Scrub(t.Context()))
	if file := fileOf(t); bytes.Contains(file, []byte(secret)) || !bytes.Contains(file, []byte("what is kept in a pack")) {
		t.Error("what was deleted is in the file still, or what was not is gone")
	}
}

func fileOf(t *testing.T) []byte {
	t.Helper()
	data, err := os.ReadFile(etcdtest.SharedFile())
	if err != nil {
		t.Fatal(err)
	}
	return data
}
