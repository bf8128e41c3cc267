//go:build etcd

package daemon_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

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
