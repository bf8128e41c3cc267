package bolt_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"

	"go.etcd.io/bbolt"

	"gritward/internal/store/bolt"
)

// branched is a small file of bbolt's with pages of 4 KiB that has all there can be: branches, records over several pages, a
// bucket in pages of its own and one within a page, free pages.
func branched(t testing.TB) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "b.db")
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{PageSize: 4096})
	if err != nil {
		t.Fatal(err)
	}
	for round := range 2 {
		err := db.Update(func(tx *bbolt.Tx) error {
			outer, err := tx.CreateBucketIfNotExists([]byte("clubs"))
			if err != nil {
				return err
			}
			inner, err := outer.CreateBucketIfNotExists([]byte("moor"))
			if err != nil {
				return err
			}
			small, err := outer.CreateBucketIfNotExists([]byte("small"))
			if err != nil {
				return err
			}
			for i := range 40 {
				size := 200
				if i == 7 {
					size = 9000
				}
				if err := inner.Put(fmt.Appendf(nil, "key%04d", i), bytes.Repeat([]byte{byte(i + round)}, size)); err != nil {
					return err
				}
			}
			return small.Put([]byte("k"), []byte("v"))
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func problems(data []byte) []string {
	return bolt.CheckPages(bytes.NewReader(data), int64(len(data)), nil)
}

// boltReads has bbolt read every record of a file, and check it; the error is what it found.
func boltReads(t testing.TB, data []byte) (err error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "r.db")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("panic: %v", fault)
		}
	}()
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{ReadOnly: true, PreLoadFreelist: true})
	if err != nil {
		return err
	}
	defer db.Close()
	return db.View(func(tx *bbolt.Tx) error {
		for err := range tx.Check() {
			return err
		}
		return tx.ForEach(func(_ []byte, b *bbolt.Bucket) error {
			return b.ForEachBucket(func(name []byte) error { return b.Bucket(name).ForEach(func(_, _ []byte) error { return nil }) })
		})
	})
}

func TestPagesSound(t *testing.T) {
	for name, data := range map[string][]byte{"small": branched(t), "a store": filled(t)} {
		if got := problems(data); got != nil {
			t.Errorf("%s: %q", name, got)
		}
		if err := boltReads(t, data); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// pageOf finds a page by its kind, of at least so many records, in the newest state of a file.
func pageOf(t *testing.T, data []byte, kind uint16, least int) int {
	t.Helper()
	for id := 2; (id+1)*4096 <= len(data); id++ {
		page := data[id*4096:]
		if binary.NativeEndian.Uint64(page) != uint64(id) || binary.NativeEndian.Uint16(page[8:]) != kind || int(binary.NativeEndian.Uint16(page[10:])) < least {
			continue
		}
		broken := bytes.Clone(data)
		broken[id*4096+8] = 0xee // whether it is in use
		if problems(broken) != nil {
			return id
		}
	}
	t.Fatalf("no page of kind %d", kind)
	return 0
}

// TestPagesDamaged damages each part of the format by hand.
func TestPagesDamaged(t *testing.T) {
	good := branched(t)
	branch, leaf, free := pageOf(t, good, 1, 2), pageOf(t, good, 2, 5), pageOf(t, good, 16, 1)
	put64 := func(at int, value uint64) func([]byte) {
		return func(data []byte) { binary.NativeEndian.PutUint64(data[at:], value) }
	}
	put32 := func(at int, value uint32) func([]byte) {
		return func(data []byte) { binary.NativeEndian.PutUint32(data[at:], value) }
	}
	put16 := func(at int, value uint16) func([]byte) {
		return func(data []byte) { binary.NativeEndian.PutUint16(data[at:], value) }
	}
	at := func(page, offset int) int { return page*4096 + offset }
	for name, row := range map[string]struct {
		damage func([]byte)
		says   string
	}{
		"both metas":             {func(data []byte) { data[20] ^= 1; data[4096+20] ^= 1 }, "both first pages are damaged"},
		"one meta":               {func(data []byte) { data[20] ^= 1 }, "page 0 is damaged, one of the two"},
		"the head of a meta":     {put64(4096, 77), "page 1 is damaged, one of the two"},
		"a branch to itself":     {put64(at(branch, 16+8), uint64(branch)), "is used twice"},
		"a branch to nowhere":    {put64(at(branch, 16+8), 1<<60), "is pointed to, and the file has pages"},
		"a branch to the metas":  {put64(at(branch, 16+8), 1), "page 1 is pointed to"},
		"one leaf for another":   {put64(at(branch, 16+8), binary.NativeEndian.Uint64(good[at(branch, 32+8):])), "out of order"},
		"an id":                  {put64(at(leaf, 0), 3000), "says that it is page 3000"},
		"a kind":                 {put16(at(leaf, 8), 4), "of kind 0x4"},
		"a count":                {put16(at(leaf, 10), 60000), "60000 records"},
		"no records in a branch": {put16(at(branch, 10), 0), "0 records"},
		"an overflow":            {put32(at(leaf, 12), 1<<31), "with 2147483648 more"},
		"a position":             {put32(at(leaf, 16+4), 1<<31), "reaches out of it"},
		"a position in the head": {put32(at(leaf, 16+4), 2), "reaches out of it"},
		"a length of a key":      {put32(at(leaf, 16+8), 1<<31), "reaches out of it"},
		"a length of a value":    {put32(at(leaf, 16+12), 1<<31), "reaches out of it"},
		"a letter of a key":      {func(data []byte) { data[bytes.Index(data[at(leaf, 0):], []byte("key"))+at(leaf, 0)] = 'z' }, "out of order"},
		"the count of the free":  {put16(at(free, 10), 60000), "should list the free pages"},
		"the free, very many":    {func(data []byte) { put16(at(free, 10), 65535)(data); put64(at(free, 16), 1<<63)(data) }, "should list the free pages"},
		"a free page in use":     {put64(at(free, 16), uint64(leaf)), "is in use, and listed as free"},
		"a free page nowhere":    {put64(at(free, 16), 1<<40), "is listed as free, and the file has"},
		"a page lost":            {put16(at(free, 10), 0), "is neither in use nor free"},
	} {
		t.Run(name, func(t *testing.T) {
			data := bytes.Clone(good)
			row.damage(data)
			got := problems(data)
			if len(got) == 0 || len(got) > 21 || !strings.Contains(strings.Join(got, "\n"), row.says) {
				t.Errorf("%q, want %q", got, row.says)
			}
		})
	}
	for _, size := range []int{0, 1, 100, 4096, 8192, len(good) / 2} {
		if got := problems(good[:size]); len(got) == 0 {
			t.Errorf("cut to %d bytes: nothing is wrong", size)
		}
	}
}

// FuzzPages damages bytes of a file: where nothing is found wrong, bbolt reads every record and finds nothing wrong either.
func FuzzPages(f *testing.F) {
	good := branched(f)
	f.Add(uint32(0), uint64(0), uint32(9000), uint64(1))
	f.Add(uint32(4096*3+24), uint64(3), uint32(4096*4+16), uint64(1<<63))
	f.Fuzz(func(t *testing.T, first uint32, one uint64, second uint32, two uint64) {
		data := bytes.Clone(good)
		for at, with := range map[uint32]uint64{first: one, second: two} {
			at %= uint32(len(data) - 8)
			binary.NativeEndian.PutUint64(data[at:], binary.NativeEndian.Uint64(data[at:])^with)
		}
		if problems(data) != nil {
			return
		}
		if err := boltReads(t, data); err != nil {
			t.Errorf("nothing was found wrong, and bbolt: %v", err)
		}
	})
}
