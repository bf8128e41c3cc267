package storetest

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/store"
)

func keyChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"get, put, delete":              checkGetPutDelete,
		"empty values are not absent":   checkEmptyValues,
		"keys of every kind":            checkOddKeys,
		"keys too short or too long":    checkBadKeys,
		"values of every size":          checkLargeValues,
		"bytes are copied in and out":   checkCopies,
		"a bad key refuses only itself": checkBadKeyRefusesOnlyItself,
	}
}

func checkGetPutDelete(t *testing.T, open Open) {
	s := open(t)
	must(t, update(s, func(tx store.Tx) error {
		wants(t, tx, "a", nil)
		must(t, tx.Delete("a"))
		must(t, tx.Put("a", []byte("1")))
		wants(t, tx, "a", []byte("1"))
		must(t, tx.Put("a", []byte("2")))
		must(t, tx.Put("b", []byte("3")))
		must(t, tx.Delete("b"))
		wants(t, tx, "b", nil)
		return nil
	}))
	must(t, update(s, func(tx store.Tx) error {
		wants(t, tx, "a", []byte("2"))
		wants(t, tx, "b", nil)
		return tx.Delete("a")
	}))
	if got := all(t, s, clubA); len(got) != 0 {
		t.Errorf("left over: %v", got)
	}
}

// wants compares the value of a key; nil and empty differ.
func wants(t rapid.TB, tx store.Tx, key string, want []byte) {
	t.Helper()
	got, err := tx.Get(key)
	if err != nil || cmp.Diff(want, got) != "" {
		t.Errorf("Get(%.40q) = %.40q (nil: %t), %v; want %.40q (nil: %t)", key, got, got == nil, err, want, want == nil)
	}
	for _, value := range [][]byte{want, append([]byte{}, want...), append([]byte("x"), want...), want[:max(len(want)-1, 0)]} {
		is, err := tx.Is(key, value)
		if should := want != nil && string(value) == string(want); err != nil || is != should {
			t.Errorf("Is(%.40q, %.40q) = %t, %v; want %.40q (nil: %t)", key, value, is, err, want, want == nil)
		}
	}
}

func checkEmptyValues(t *testing.T, open Open) {
	s := open(t)
	check := func(tx store.Tx) error {
		wants(t, tx, "nil", []byte{})
		wants(t, tx, "empty", []byte{})
		return nil
	}
	must(t, update(s, func(tx store.Tx) error {
		must(t, tx.Put("nil", nil))
		must(t, tx.Put("empty", []byte{}))
		return check(tx)
	}))
	must(t, view(s, check))
	must(t, update(s, func(tx store.Tx) error {
		must(t, tx.Put("z", []byte("makes the page be read for writing")))
		return check(tx)
	}))
	must(t, s.Close())
	must(t, view(open(t), check))
}

func checkOddKeys(t *testing.T, open Open) {
	s := open(t)
	long := strings.Repeat("k", store.MaxKeyBytes-1)
	want := []entry{ // in the order of bytes
		{"\x00", "zero"}, {"\x00\x00", "two zeros"}, {" ", "space"}, {"../../etc", "path"}, {"A", "upper"}, {"a", "lower"},
		{"a\x00", "a zero"}, {"a/", "slash"}, {"clubs", "as the layout has it"}, {long + "a", "longest"}, {long + "b", "next"},
		{"\xc3", "half a letter"}, {"ä", "letter"}, {"\xff", "last byte"}, {"\xff\xff", "last bytes"},
	}
	put(t, s, clubA, want...)
	must(t, s.Close())
	s = open(t)
	if diff := cmp.Diff(want, all(t, s, clubA)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	must(t, view(s, func(tx store.Tx) error {
		for _, e := range want {
			wants(t, tx, e.Key, []byte(e.Value))
		}
		return nil
	}))
}

func checkBadKeys(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"})
	for _, key := range []string{"", strings.Repeat("k", store.MaxKeyBytes+1), strings.Repeat("k", 1<<20)} {
		_ = update(s, func(tx store.Tx) error {
			_, getErr := tx.Get(key)
			_, isErr := tx.Is(key, nil)
			for what, err := range map[string]error{"Get": getErr, "Is": isErr, "Put": tx.Put(key, nil), "Delete": tx.Delete(key)} {
				if !errors.Is(err, store.ErrKey) {
					t.Errorf("%s of a key of %d bytes: %v, want ErrKey", what, len(key), err)
				}
			}
			return nil
		})
	}
	if diff := cmp.Diff([]entry{{"a", "1"}}, all(t, s, clubA)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func checkLargeValues(t *testing.T, open Open) {
	s := open(t)
	var want []entry
	for i, size := range []int{1, 4079, 4080, 4096, 65536, 65537, 3 << 20} {
		want = append(want, entry{string(rune('a' + i)), strings.Repeat(string(rune('0'+i)), size)})
	}
	put(t, s, clubA, want...)
	must(t, s.Close())
	if got := all(t, open(t), clubA); !cmp.Equal(want, got) {
		t.Errorf("%d values came back, not all as they were", len(got))
	}
}

func checkCopies(t *testing.T, open Open) {
	s := open(t)
	in := []byte("as put")
	var out []byte
	must(t, update(s, func(tx store.Tx) error {
		must(t, tx.Put("a", in))
		copy(in, "XXXXXX")
		wants(t, tx, "a", []byte("as put"))
		got, err := tx.Get("a")
		copy(got, "YYYYYY")
		return err
	}))
	must(t, view(s, func(tx store.Tx) (err error) {
		out, err = tx.Get("a")
		return err
	}))
	for range 50 { // the pages of the old value come into use again
		put(t, s, clubA, entry{"a", "other bytes"})
	}
	must(t, s.Close())
	if string(out) != "as put" {
		t.Errorf("the caller's bytes became %q", out)
	}
	copy(out, "ZZZZZZ") // must not fault either
}

func checkBadKeyRefusesOnlyItself(t *testing.T, open Open) {
	s := open(t)
	must(t, update(s, func(tx store.Tx) error {
		must(t, tx.Put("a", []byte("1")))
		if err := tx.Put("", nil); !errors.Is(err, store.ErrKey) {
			t.Errorf("Put of an empty key: %v", err)
		}
		return tx.Put("b", []byte("2"))
	}))
	if diff := cmp.Diff([]entry{{"a", "1"}, {"b", "2"}}, all(t, s, clubA)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}
