//go:build etcd

package daemon_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/store/etcd/etcdtest"
)

// TestMove moves a store from its file into etcd and back, and refuses places that are not empty.
func TestMove(t *testing.T) {
	data := storedFile(t, bolt.Schema)
	address, prefix := etcdtest.Shared(t)
	with := []string{"--etcd-endpoints", address, "--etcd-prefix", prefix}
	move := func(to, data string) (int, string, string) {
		return run(t, append([]string{"move", to, "--data", data}, with...)...)
	}
	code, out, errOut := move("to-etcd", data)
	if code != 0 || !strings.Contains(out, "Moved ") {
		t.Fatal(code, out, errOut)
	}
	digest, _, _ := strings.Cut(out[strings.Index(out, "them: ")+len("them: "):], " ")
	if len(digest) != 64 || strings.Count(out, digest) != 2 {
		t.Errorf("the digests: %s", out)
	}
	if code, _, errOut := move("to-etcd", data); code != 1 || !strings.Contains(errOut, "and nothing was moved") {
		t.Errorf("into etcd again: %d, %s", code, errOut)
	}
	if code, _, errOut := move("to-file", data); code != 1 || !strings.Contains(errOut, "is there already, and nothing was moved") {
		t.Errorf("onto the file: %d, %s", code, errOut)
	}
	back := filepath.Join(t.TempDir(), "back.db")
	broken, err := bolt.Open(bolt.Options{Path: back + ".moving", Now: time.Now}) // as a move that was killed leaves it
	if err != nil {
		t.Fatal(err)
	}
	if err := broken.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("a", nil) }); err != nil {
		t.Fatal(err)
	}
	journal, err := os.ReadFile(bolt.JournalOf(back + ".moving"))
	if err := errors.Join(err, broken.Close(), os.WriteFile(bolt.JournalOf(back+".moving"), journal, 0o600), os.WriteFile(bolt.JournalOf(back), journal, 0o600)); err != nil {
		t.Fatal(err)
	}
	if code, _, errOut := move("to-file", back); code != 1 || !strings.Contains(errOut, bolt.JournalOf(back)) || !strings.Contains(errOut, "nothing was moved") {
		t.Errorf("beside the journal of a store that is gone: %d, %s", code, errOut)
	}
	if err := os.Remove(bolt.JournalOf(back)); err != nil {
		t.Fatal(err)
	}
	if code, out, errOut := move("to-file", back); code != 0 || strings.Count(out, digest) != 2 {
		t.Errorf("back: %d, %s%s; want digest %s", code, out, errOut, digest)
	}
	if _, err := os.Stat(back + ".moving"); err == nil {
		t.Error("the half file is left")
	}
	if code, out, errOut := run(t, "verify", "--data", back); code != 0 {
		t.Errorf("verify: %d, %s%s", code, out, errOut)
	}
	if code, _, errOut := run(t, append([]string{"backup", filepath.Join(t.TempDir(), "b"), "--data", data}, with...)...); code != 1 || !strings.Contains(errOut, "etcdctl snapshot save") {
		t.Errorf("backup: %d, %s", code, errOut)
	}
}
