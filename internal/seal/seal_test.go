package seal_test

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/seal"
)

func fresh(t testing.TB) *seal.Keys {
	t.Helper()
	keys, err := seal.New()
	if err != nil {
		t.Fatal(err)
	}
	return keys
}

// TestStandardGCM opens what was sealed with the standard library's AES-256-GCM as NIST SP 800-38D has it (nonce of 12 bytes
// before, tag of 16 bytes after, the name bound), with the key as the file has it.
func TestStandardGCM(t *testing.T) {
	keys := fresh(t)
	lines := strings.Split(strings.TrimSpace(string(keys.Text())), "\n")
	secret, err := hex.DecodeString(strings.Fields(lines[len(lines)-1])[2])
	if err != nil {
		t.Fatal(err)
	}
	block, err := aes.NewCipher(secret)
	if err != nil {
		t.Fatal(err)
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		t.Fatal(err)
	}
	_, sealed, err := keys.Seal("clubs/a/members/b/contacts", []byte("hello"))
	if err != nil {
		t.Fatal(err)
	}
	if len(sealed) != 12+5+16 {
		t.Errorf("%d bytes", len(sealed))
	}
	plain, err := gcm.Open(nil, sealed[:12], sealed[12:], []byte("gritward sealed record 1\x00clubs/a/members/b/contacts"))
	if err != nil || string(plain) != "hello" {
		t.Errorf("%q, %v", plain, err)
	}
}

// TestTampered: whatever is changed of a sealed record, its name or its key, it does not open.
func TestTampered(t *testing.T) {
	keys := fresh(t)
	rapid.Check(t, func(t *rapid.T) {
		plain := rapid.SliceOfN(rapid.Byte(), 0, 200).Draw(t, "plain")
		name := rapid.StringMatching(`clubs/[a-z]{1,8}/members/[a-z]{1,8}/contacts`).Draw(t, "name")
		id, sealed, err := keys.Seal(name, plain)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := keys.Open(name, id, sealed); err != nil || !bytes.Equal(got, plain) {
			t.Fatalf("%q, %v", got, err)
		}
		at, cut := rapid.IntRange(0, len(sealed)-1).Draw(t, "at"), rapid.IntRange(0, len(sealed)-1).Draw(t, "cut")
		flipped := bytes.Clone(sealed)
		flipped[at] ^= byte(rapid.IntRange(1, 255).Draw(t, "bits"))
		for what, bad := range map[string][]byte{"flipped": flipped, "cut": sealed[:cut], "longer": append(bytes.Clone(sealed), 0)} {
			if _, err := keys.Open(name, id, bad); !errors.Is(err, seal.ErrBroken) {
				t.Fatalf("%s: %v", what, err)
			}
		}
		if _, err := keys.Open(name+"x", id, sealed); !errors.Is(err, seal.ErrBroken) {
			t.Fatalf("another name: %v", err)
		}
		if _, err := keys.Open(name, id+"0", sealed); !errors.Is(err, seal.ErrNoKey) {
			t.Fatalf("another key: %v", err)
		}
	})
}

// TestTurned: the new key seals, both open, and without the old one what it sealed stays shut.
func TestTurned(t *testing.T) {
	keys := fresh(t)
	id, sealed, err := keys.Seal("n", []byte("old"))
	if err != nil {
		t.Fatal(err)
	}
	turned, err := keys.Turned()
	if err != nil {
		t.Fatal(err)
	}
	if read, err := seal.Parse(turned.Text()); err != nil || fmt.Sprint(read.IDs()) != fmt.Sprint(turned.IDs()) || turned.ID() == id || turned.IDs()[1] != id {
		t.Errorf("%v, %v", turned.IDs(), err)
	}
	if _, err := turned.Open("n", id, sealed); err != nil {
		t.Error(err)
	}
	if _, err := turned.Newest().Open("n", id, sealed); !errors.Is(err, seal.ErrNoKey) {
		t.Error(err)
	}
	if _, _, err := (*seal.Keys)(nil).Seal("n", nil); err == nil {
		t.Error("sealed with nothing")
	}
	if _, err := (*seal.Keys)(nil).Open("n", id, sealed); !errors.Is(err, seal.ErrNoKey) {
		t.Error(err)
	}
}

// TestParse refuses what is no key file, and never repeats what stands there; keys are never printed.
func TestParse(t *testing.T) {
	keys := fresh(t)
	text := string(keys.Text())
	line := text[strings.Index(text, "\nkey ")+1 : len(text)-1]
	words := strings.Fields(line)
	id, secret := words[1], words[2]
	for content, want := range map[string]string{
		"":                                    "there is no key in it",
		"# nothing\n":                         "there is no key in it",
		"key " + id + "\n":                    "line 1: it is not of the form: key ID SECRET",
		"key " + id + " zz" + secret[2:]:      "line 1: the secret is not hexadecimal",
		"key " + id + " " + secret[2:]:        "line 1: the secret has 31 bytes; a key has 32",
		"key 0123456789abcdef " + secret:      "line 1: the secret is not the one of that id: one of the two was changed",
		line + "\n" + line:                    "line 2: the same key stands there twice",
		strings.Repeat("#", seal.MaxText+1):   "it has more than 16384 bytes, and is no key file",
		"\xff\xfe\x00" + line + " and more\n": "line 1: it is not of the form: key ID SECRET",
	} {
		_, err := seal.Parse([]byte(content))
		if err == nil || err.Error() != want || strings.Contains(err.Error(), secret[2:10]) {
			t.Errorf("%.40q: %v, want %s", content, err, want)
		}
	}
	for _, form := range []string{"%v", "%+v", "%#v", "%s", "%q", "%x", "%d"} {
		if got := fmt.Sprintf(form, keys); got != "(keys)" {
			t.Errorf("%s prints %.40s", form, got)
		}
	}
}

// FuzzParse: a text is refused, or comes back as it is written.
func FuzzParse(f *testing.F) {
	keys := fresh(f)
	f.Add(keys.Text())
	f.Add([]byte("key a b"))
	f.Fuzz(func(t *testing.T, text []byte) {
		read, err := seal.Parse(text)
		if err != nil {
			return
		}
		again, err := seal.Parse(read.Text())
		if err != nil || fmt.Sprint(again.IDs()) != fmt.Sprint(read.IDs()) {
			t.Errorf("%v, %v", again, err)
		}
	})
}
