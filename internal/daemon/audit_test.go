package daemon_test

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// TestAuditVerify founds a club and invites into it; the log is unbroken, holds against its noted head, and shows what
// is done to the store past the ledger, and to the file's bytes.
func TestAuditVerify(t *testing.T) {
	data := filepath.Join(t.TempDir(), "club.db")
	code, _, errOut := run(t, "found", "fenwick", "--data", data, "--title", "Fenwick Wheelers", "--secretary", "Ida Rook",
		"--zone", "Europe/London", "--at", "54.1,-2.2")
	for range 3 {
		if code == 0 {
			code, _, errOut = run(t, "invite", "fenwick", "--data", data, "--secretary", "Ida Rook")
		}
	}
	if code != 0 {
		t.Fatalf("exit %d: %s", code, errOut)
	}
	before, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	code, out, errOut := run(t, "audit", "verify", "--data", data)
	head := regexp.MustCompile(`fenwick/4:[0-9a-f]{64}`).FindString(out)
	if code != 0 || !strings.HasPrefix(out, "fenwick: unbroken, entries 1 to 4\n  head "+head) || !strings.Contains(out, "Note the head elsewhere") {
		t.Fatalf("exit %d: %s%s", code, out, errOut)
	}
	code, out, _ = run(t, "audit", "verify", "--data", data, "--head", head)
	if code != 0 || !strings.HasPrefix(out, "fenwick: unbroken, entries 1 to 4, and as noted up to entry 4\n") || strings.Contains(out, "Not held") {
		t.Errorf("exit %d: %s", code, out)
	}
	code, out, _ = run(t, "audit", "verify", "--data", data, "--head", strings.Replace(head, "fenwick", "gone", 1))
	if code != 1 || !strings.Contains(out, "gone: BROKEN: entry 1 is missing: the log is empty\n") {
		t.Errorf("a club that is gone: exit %d: %s", code, out)
	}
	if after, err := os.ReadFile(data); err != nil || string(after) != string(before) {
		t.Errorf("looking changed the store: %v", err)
	}
	without(t, data, "audit/0000000000000004")
	code, out, _ = run(t, "audit", "verify", "--data", data)
	if code != 0 || !strings.Contains(out, "entries 1 to 3\n") {
		t.Errorf("the end cut off, alone: exit %d: %s", code, out)
	}
	code, out, errOut = run(t, "audit", "verify", "--data", data, "--head", head, "--json")
	var answer struct {
		Unbroken bool
		Logs     []struct {
			Club   string
			Broken int64 `json:"broken_entry"`
			What   string
		}
	}
	if err := json.Unmarshal([]byte(out), &answer); err != nil || code != 1 || answer.Unbroken || answer.Logs[0].Broken != 4 ||
		!strings.HasPrefix(errOut, "gritwardd: 1 audit log broken: keep this store as it is") {
		t.Errorf("the end cut off, with the head: exit %d, %v: %s%s", code, err, out, errOut)
	}
	without(t, data, "audit/0000000000000002")
	if code, out, _ := run(t, "audit", "verify", "--data", data); code != 1 || !strings.Contains(out, "fenwick: BROKEN: entry 2 is missing") {
		t.Errorf("one removed: exit %d: %s", code, out)
	}
}

// without removes a key of the club "fenwick", past the ledger.
func without(t *testing.T, path, key string) {
	t.Helper()
	s, err := bolt.Open(bolt.Options{Path: path, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	err = s.Update(t.Context(), "fenwick", func(tx store.Tx) error {
		if value, err := tx.Get(key); value == nil {
			t.Errorf("there is no %s: %v", key, err)
		}
		return tx.Delete(key)
	})
	if err := errors.Join(err, s.Close()); err != nil {
		t.Fatal(err)
	}
}

// TestAuditVerifyRefusals: what is no store, and heads that are none. Nothing is made.
func TestAuditVerifyRefusals(t *testing.T) {
	folder := t.TempDir()
	missing := filepath.Join(folder, "sub", "none.db")
	text := filepath.Join(folder, "text.db")
	if err := os.WriteFile(text, []byte(strings.Repeat("not a store\n", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--data", missing}, 1, "there is no file " + missing},
		{[]string{"--data", text}, 1, "is not a store, or is damaged"},
		{[]string{"--data", folder}, 1, "is a folder"},
		{[]string{"--head", "fenwick/1"}, 2, "--head \"fenwick/1\" is not of the form CLUB/NUMBER:SHA256"},
		{[]string{"extra"}, 2, "accepts 0 arg(s)"},
	} {
		code, _, errOut := run(t, append([]string{"audit", "verify"}, test.args...)...)
		if code != test.code || !strings.Contains(errOut, test.want) {
			t.Errorf("%v: exit %d: %s", test.args, code, errOut)
		}
	}
	if _, err := os.Stat(filepath.Dir(missing)); err == nil {
		t.Error("a folder was made")
	}
}

// TestAuditVerifyDamage overwrites every page of a store in turn: the command ends with a message, never with a crash,
// and says "unbroken" only when nothing of the log was hit.
func TestAuditVerifyDamage(t *testing.T) {
	folder := t.TempDir()
	data := filepath.Join(folder, "club.db")
	if code, _, errOut := run(t, "found", "fenwick", "--data", data, "--title", "F", "--secretary", "I", "--zone", "Europe/London", "--at", "54.1,-2.2"); code != 0 {
		t.Fatal(errOut)
	}
	whole, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	_, good, _ := run(t, "audit", "verify", "--data", data)
	page, hit, found := os.Getpagesize(), 0, 0
	for at := 2 * page; at < len(whole); at += page {
		if strings.Trim(string(whole[at:at+page]), "\x00") == "" {
			continue
		}
		damaged := []byte(string(whole))
		copy(damaged[at:], strings.Repeat("\xa5", page))
		path := filepath.Join(folder, "damaged.db")
		if err := os.WriteFile(path, damaged, 0o600); err != nil {
			t.Fatal(err)
		}
		hit++
		code, out, errOut := run(t, "audit", "verify", "--data", path)
		switch {
		case code == 1 && errOut != "":
			found++
		case code != 0 || out != good:
			t.Errorf("page %d: exit %d: %s%s", at/page, code, out, errOut)
		}
	}
	if hit == 0 || found == 0 {
		t.Errorf("%d pages hit, %d found: this shows nothing", hit, found)
	}
}
