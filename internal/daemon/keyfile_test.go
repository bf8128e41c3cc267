package daemon_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/seal"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// keyed is a store with a key file, and one member's contacts sealed with it.
func keyed(t *testing.T) (data, path string) {
	t.Helper()
	data, path = filepath.Join(t.TempDir(), "club.db"), filepath.Join(t.TempDir(), "contacts.key")
	keys, err := seal.New()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, keys.Text(), 0o600); err != nil {
		t.Fatal(err)
	}
	inStore(t, data, func(tx *ledger.Tx) error {
		return tx.SaveContacts(keys, &pb.EmergencyContacts{Name: "clubs/fenwick/members/ben/contacts", MedicalNote: "allergic to bees"})
	})
	return data, path
}

func inStore(t *testing.T, data string, use func(*ledger.Tx) error) {
	t.Helper()
	opened, err := bolt.Open(bolt.Options{Path: data, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	if err := ledger.New(opened, time.Now).Update(context.Background(), "fenwick", use); err != nil {
		t.Error(err)
	}
	if err := opened.Close(); err != nil {
		t.Error(err)
	}
}

// opens tells whether the key file opens what is sealed in the store.
func opens(t *testing.T, data string, text []byte) bool {
	t.Helper()
	keys, err := seal.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	var note string
	inStore(t, data, func(tx *ledger.Tx) error {
		contacts, err := tx.Contacts(keys, "ben")
		if err == nil {
			note = contacts.MedicalNote
		}
		return nil
	})
	return note == "allergic to bees"
}

// TestKeyFileRefused: without the right key file the server does not start, says what to do, and writes nothing.
func TestKeyFileRefused(t *testing.T) {
	other, err := seal.New()
	if err != nil {
		t.Fatal(err)
	}
	for what, one := range map[string]struct {
		spoil func(path string) error
		want  string
	}{
		"missing": {os.Remove, "and the store has emergency contacts sealed with a key"},
		"open":    {func(path string) error { return os.Chmod(path, 0o644) }, "can be read or written by others (mode 0644): chmod 600 "},
		"another": {func(path string) error { return os.WriteFile(path, other.Text(), 0o600) }, "is not the key file of this store: it has not the key "},
		"cut":     {func(path string) error { return os.Truncate(path, 400) }, "; put it back from where you keep its copy; nothing was changed"},
		"empty":   {func(path string) error { return os.Truncate(path, 0) }, "there is no key in it"},
		"folder": {func(path string) error {
			if err := os.Remove(path); err != nil {
				return err
			}
			return os.Mkdir(path, 0o700)
		}, "is not an ordinary file"},
	} {
		t.Run(what, func(t *testing.T) {
			data, path := keyed(t)
			if err := one.spoil(path); err != nil {
				t.Fatal(err)
			}
			before, _ := os.ReadFile(path)
			for _, command := range []string{"serve", "rekey"} {
				code, _, errOut := run(t, command, "--data", data, "--key-file", path, "--listen", "127.0.0.1:0")
				if command == "rekey" && what == "missing" {
					one.want = "there is no key yet, or --key-file names another place"
				}
				if code != 1 || !strings.Contains(errOut, one.want) {
					t.Errorf("%s: exit %d: %s\nwant %s", command, code, errOut, one.want)
				}
			}
			if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
				t.Error("the key file was changed")
			}
		})
	}
}

// TestRekey seals anew with a new key and drops the old one; broken off between any two steps it goes on when run again.
func TestRekey(t *testing.T) {
	data, path := keyed(t)
	first, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rekeyed := func() []byte {
		t.Helper()
		code, out, errOut := run(t, "rekey", "--data", data, "--key-file", path)
		if code != 0 || !strings.Contains(out, "Keep a copy of "+path) {
			t.Fatalf("exit %d: %s%s", code, out, errOut)
		}
		text, err := os.ReadFile(path)
		if info, statErr := os.Stat(path); err != nil || statErr != nil || info.Mode().Perm() != 0o600 {
			t.Fatalf("%v %v", err, statErr)
		}
		return text
	}
	second := rekeyed()
	if opens(t, data, first) || !opens(t, data, second) || bytes.Count(second, []byte("\nkey ")) != 1 {
		t.Errorf("after a change of key: old opens %v, new opens %v", opens(t, data, first), opens(t, data, second))
	}
	keys, err := seal.Parse(second)
	if err != nil {
		t.Fatal(err)
	}
	turned, err := keys.Turned() // broken off after the new key was written, before anything was sealed with it
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, turned.Text(), 0o600); err != nil {
		t.Fatal(err)
	}
	if third := rekeyed(); !bytes.Equal(third, turned.Newest().Text()) || !opens(t, data, third) {
		t.Error("it did not go on with the key that was there")
	}
	if err := os.WriteFile(path, turned.Text(), 0o600); err != nil { // broken off after all was sealed, before the old key went
		t.Fatal(err)
	}
	if last := rekeyed(); !bytes.Equal(last, turned.Newest().Text()) || !opens(t, data, last) {
		t.Error("it did not end")
	}
}
