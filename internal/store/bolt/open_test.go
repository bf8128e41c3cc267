package bolt_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

func TestNewFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	for range 2 { // the second opening changes nothing
		if err := opened(t, path).Close(); err != nil {
			t.Fatal(err)
		}
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v; want 0600", info.Mode(), err)
	}
	if info.Size() > 2<<20 {
		t.Errorf("a new store takes %d bytes", info.Size())
	}
	bare(t, path, func(tx *bbolt.Tx) error {
		got := &pb.StoreInfo{}
		if err := proto.Unmarshal(tx.Bucket([]byte("meta")).Get([]byte("info")), got); err != nil {
			return err
		}
		if got.Schema != bolt.Schema || !got.CreatedAt.AsTime().Equal(madeAt()) {
			t.Errorf("StoreInfo is %v, want schema %d, made at %v", got, bolt.Schema, madeAt())
		}
		return nil
	})
}

func TestOptionsMissing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	for _, options := range []bolt.Options{{}, {Path: path}, {Now: madeAt}} {
		refused(t, options, "Options needs Path and Now")
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("a file was made")
	}
}

// refused opens what must not open, and holds the error against what it must say.
func refused(t testing.TB, options bolt.Options, says ...string) {
	t.Helper()
	s, err := bolt.Open(options)
	if err == nil {
		t.Errorf("%s was opened; want an error with %q", options.Path, says)
		_ = s.Close()
		return
	}
	for _, want := range append(says, "store: ") {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error is\n%v\nwithout %q", err, want)
		}
	}
	if strings.Contains(err.Error(), "\n") || len(err.Error()) > 400+2*len(options.Path) {
		t.Errorf("not a line for people: %v", err)
	}
}

// filled makes a store of several pages, and gives the file's bytes.
func filled(t testing.TB) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "club.db")
	s := opened(t, path)
	for i := range 40 {
		if err := put(s, strings.Repeat("k", i+1), bytes.Repeat([]byte{'v'}, 3000)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestBadFiles(t *testing.T) {
	good := filled(t)
	page := os.Getpagesize()
	broken := func(from, to int) []byte {
		data := bytes.Clone(good)
		for i := from; i < to; i++ {
			data[i] = 0xa5
		}
		return data
	}
	const damaged, restore = "is not a store, or is damaged", "restore it from a backup, or point --data elsewhere"
	for name, row := range map[string]struct {
		data []byte
		says []string
	}{
		"empty":                {nil, []string{"is empty", "delete it to begin a new store, or restore"}},
		"one byte":             {[]byte("x"), []string{damaged, restore}},
		"text":                 {[]byte(strings.Repeat("not a store\n", 5000)), []string{damaged, restore}},
		"zeros":                {make([]byte, 1<<20), []string{damaged, restore}},
		"cut in first page":    {good[:page/2], []string{damaged, restore}},
		"cut in second page":   {good[:page+100], []string{damaged, restore}},
		"cut after two pages":  {good[:2*page], []string{damaged, restore}},
		"cut after four pages": {good[:4*page], []string{damaged, restore}},
		"cut in the middle":    {good[:20*page], []string{damaged, restore}},
		"both first pages bad": {broken(0, 2*page), []string{damaged, restore}},
		"all but two pages":    {broken(2*page, len(good)), []string{damaged, restore}},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "club.db")
			if err := os.WriteFile(path, row.data, 0o600); err != nil {
				t.Fatal(err)
			}
			refused(t, bolt.Options{Path: path, Now: madeAt}, append(row.says, path)...)
			if left, err := os.ReadFile(path); err != nil || !bytes.Equal(left, row.data) {
				t.Errorf("the file was changed (%v): it is all that is left to restore from", err)
			}
		})
	}
}

// TestOneBadFirstPage loses one of the two pages that bbolt keeps for just that: without the newer one the last change, which was
// acknowledged, would be lost unseen.
func TestOneBadFirstPage(t *testing.T) {
	good := filled(t)
	for number := range 2 {
		for name, spoil := range map[string]func(page []byte){
			"gone":     func(page []byte) { clear(page[:100]) },
			"one bit":  func(page []byte) { page[40] ^= 8 },
			"two bits": func(page []byte) { page[33] ^= 128; page[75] ^= 1 },
			"its kind": func(page []byte) { page[8] ^= 1 },
		} {
			data, path := bytes.Clone(good), filepath.Join(t.TempDir(), "club.db")
			spoil(data[number*os.Getpagesize():])
			if err := os.WriteFile(path, data, 0o600); err != nil {
				t.Fatal(err)
			}
			s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt})
			if err == nil { // the older one is not needed
				if value, err := get(s, strings.Repeat("k", 40)); err != nil || len(value) != 3000 || name == "gone" {
					t.Errorf("without page %d (%s): %d bytes of what was written last, %v", number, name, len(value), err)
				}
				_ = s.Close()
				continue
			}
			var damaged *store.DamagedError
			if !errors.As(err, &damaged) || !strings.Contains(err.Error(), "the last change may be lost") {
				t.Errorf("without page %d (%s): %v", number, name, err)
			}
		}
	}
}

func TestBadPlaces(t *testing.T) {
	folder := t.TempDir()
	file, pipe := filepath.Join(folder, "file"), filepath.Join(folder, "pipe")
	if err := errors.Join(os.WriteFile(file, []byte("x"), 0o600), syscall.Mkfifo(pipe, 0o600)); err != nil {
		t.Fatal(err)
	}
	for path, says := range map[string]string{
		folder:                                 "is a folder: point --data at a file, such as " + filepath.Join(folder, "club.db"),
		pipe:                                   "is not an ordinary file",
		filepath.Join(folder, "no", "club.db"): "the folder " + filepath.Join(folder, "no") + " does not exist: make it",
		filepath.Join(file, "club.db"):         "cannot be opened",
		filepath.Join(folder, "nul\x00"):       "cannot be opened",
		filepath.Join(folder, long(300)+"club.db"): "cannot be opened",
	} {
		refused(t, bolt.Options{Path: path, Now: madeAt}, says)
	}
}

func long(length int) string { return strings.Repeat("n", length) }

func TestSchema(t *testing.T) {
	info := func(schema int32) []byte {
		data, err := proto.Marshal(&pb.StoreInfo{Schema: schema})
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	meta := func(data []byte) func(*bbolt.Tx) error {
		return func(tx *bbolt.Tx) error { return tx.Bucket([]byte("meta")).Put([]byte("info"), data) }
	}
	const foreign = "is another program's file, or is damaged (no schema number)"
	for name, row := range map[string]struct {
		change func(*bbolt.Tx) error
		says   string
	}{
		"newer":      {meta(info(bolt.Schema + 1)), fmt.Sprintf("has schema %d and this program knows schemas up to %d: start a newer program", bolt.Schema+1, bolt.Schema)},
		"far newer":  {meta(info(1<<31 - 1)), "has schema 2147483647"},
		"none":       {meta(info(0)), foreign},
		"negative":   {meta(info(-1)), foreign},
		"not proto":  {meta([]byte("\xff\xff\xff")), foreign},
		"no record":  {func(tx *bbolt.Tx) error { return tx.Bucket([]byte("meta")).Delete([]byte("info")) }, foreign},
		"no meta":    {func(tx *bbolt.Tx) error { return tx.DeleteBucket([]byte("meta")) }, foreign},
		"no clubs":   {func(tx *bbolt.Tx) error { return tx.DeleteBucket([]byte("clubs")) }, foreign},
		"as it must": {meta(info(bolt.Schema)), ""},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "club.db")
			if err := opened(t, path).Close(); err != nil {
				t.Fatal(err)
			}
			bare(t, path, row.change)
			if row.says == "" {
				_ = opened(t, path).Close()
				return
			}
			refused(t, bolt.Options{Path: path, Now: madeAt}, row.says, path)
			bare(t, path, func(*bbolt.Tx) error { return nil }) // the refusal let go of the file
		})
	}
}

// TestFileWithNoBuckets is a store whose making was interrupted after bbolt had made the file.
func TestFileWithNoBuckets(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	bare(t, path, func(*bbolt.Tx) error { return nil })
	s := opened(t, path)
	if err := errors.Join(put(s, "a", nil), s.Close()); err != nil {
		t.Error(err)
	}
}

// TestReadOnly reads a file that it leaves as it is, beside another reader, and makes none.
func TestReadOnly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	refused(t, bolt.Options{Path: path, Now: madeAt, ReadOnly: true}, "there is no file "+path)
	s := opened(t, path)
	if err := put(s, "a", []byte("1")); err != nil {
		t.Fatal(err)
	}
	refused(t, bolt.Options{Path: path, Now: madeAt, ReadOnly: true, LockTimeout: 1}, "is in use by another process")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		reader, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = reader.Close() }()
		if clubs, err := reader.Clubs(t.Context()); err != nil || len(clubs) != 1 {
			t.Errorf("clubs %v: %v", clubs, err)
		}
		if err := put(reader, "b", nil); !errors.Is(err, store.ErrReadOnly) {
			t.Errorf("written: %v", err)
		}
	}
	if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
		t.Errorf("the file changed: %v", err)
	}
}
