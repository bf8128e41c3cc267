package bolt_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
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

// stored are the stored files of every released schema number, each with the SHA-256 of what it keeps, as contents has it.
func stored() map[int]string {
	return map[int]string{
		1: "4a3daf2421fcd00ab4b08da3057045ab347b4d7956d7cb1e4b63a7d00380f962",
		2: "073f3b4b24a75385138516c8bd422567a8bf27491c649d74083a503b3c153052",
		3: "6bb4ae0b5f840f0ae82273db880648aa0270ea4e22fbf17b451366e146f94a52",
		4: "f83dc809dc247c9e09d175ac4ee6786a983545d90b593b3a7df52522d9f4b362",
	}
}

// contents is the SHA-256 of all that a store keeps: of every club, key and value, each after its length.
func contents(t testing.TB, s store.Store) string {
	t.Helper()
	sum := sha256.New()
	add := func(data []byte) {
		sum.Write(binary.BigEndian.AppendUint32(nil, uint32(len(data))))
		sum.Write(data)
	}
	clubs, err := s.Clubs(t.Context())
	for _, club := range clubs {
		add([]byte(club))
		err = errors.Join(err, s.View(t.Context(), club, func(tx store.Tx) error {
			return tx.Scan("", "", func(key string, value []byte) (bool, error) {
				add([]byte(key))
				add(value)
				return true, nil
			})
		}))
	}
	if err != nil {
		t.Fatal(err)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// unpacked is a stored file in a folder of its own.
func unpacked(t testing.TB, number int) string {
	t.Helper()
	packed, err := os.Open(filepath.Join("testdata", fmt.Sprintf("schema-%d.db.gz", number)))
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	from, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(from)
	path := filepath.Join(t.TempDir(), "club.db")
	if err := errors.Join(err, os.WriteFile(path, data, 0o600)); err != nil {
		t.Fatal(err)
	}
	return path
}

// number is the schema number that stands in a file.
func number(t testing.TB, path string) (number int32) {
	t.Helper()
	bare(t, path, func(tx *bbolt.Tx) error {
		info := &pb.StoreInfo{}
		err := proto.Unmarshal(tx.Bucket([]byte("meta")).Get([]byte("info")), info)
		number = info.Schema
		return err
	})
	return number
}

// TestStoredFiles opens the stored file of every number: to read it, which leaves it as it is, and to write it, which takes it to
// the newest. What it keeps is the same.
func TestStoredFiles(t *testing.T) {
	if len(stored()) != bolt.Schema {
		t.Errorf("%d files are stored, of %d schema numbers", len(stored()), bolt.Schema)
	}
	for was, want := range stored() {
		t.Run(fmt.Sprint(was), func(t *testing.T) {
			path := unpacked(t, was)
			before, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			reading, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, ReadOnly: true})
			if err != nil {
				t.Fatal(err)
			}
			if got := contents(t, reading); got != want {
				t.Errorf("read: contents %s, want %s", got, want)
			}
			if err := reading.Close(); err != nil {
				t.Error(err)
			}
			if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
				t.Errorf("reading changed the file: %v", err)
			}
			s := opened(t, path)
			if got := contents(t, s); got != want {
				t.Errorf("contents %s, want %s", got, want)
			}
			if err := errors.Join(put(s, "more", nil), s.Close()); err != nil {
				t.Error(err)
			}
			if got := number(t, path); got != bolt.Schema {
				t.Errorf("schema %d", got)
			}
			checkFile(t, path)
			alone(t, path)
		})
	}
}

// manyValues are more than go into one transaction of a step.
func manyValues(t testing.TB, path string) {
	t.Helper()
	s := opened(t, path)
	for i := range 5 {
		if err := put(s, fmt.Sprintf("k%d", i), bytes.Repeat([]byte{byte('a' + i)}, 2<<20)); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(put(s, "empty", nil), s.Update(t.Context(), "other", func(tx store.Tx) error { return tx.Put("k", []byte("x")) }), s.Close()); err != nil {
		t.Fatal(err)
	}
}

// inSteps opens with two steps more than there are: the first puts a word before every value, the second does what it is given.
func inSteps(path string, readOnly bool, second bolt.SchemaStep, tell func(string)) (*bolt.Store, error) {
	options := bolt.Options{Path: path, Now: madeAt, ReadOnly: readOnly, Tell: tell}
	options.AddSteps(func(db *bbolt.DB) error {
		return bolt.EachValue(db, func(club, key string, value []byte) ([]byte, error) {
			return append([]byte(club+"/"+key+"="), value...), nil
		})
	}, second)
	return bolt.Open(options)
}

func nothing(*bbolt.DB) error { return nil }

// stepped holds that the first step was done with every value, once.
func stepped(t testing.TB, s *bolt.Store) {
	t.Helper()
	for i := range 5 {
		want := append([]byte(fmt.Sprintf("moor/k%d=", i)), bytes.Repeat([]byte{byte('a' + i)}, 2<<20)...)
		if value, err := get(s, fmt.Sprintf("k%d", i)); err != nil || !bytes.Equal(value, want) {
			t.Errorf("k%d: %.20q (%d bytes), %v", i, value, len(value), err)
		}
	}
	if value, err := get(s, "empty"); err != nil || string(value) != "moor/empty=" {
		t.Errorf("%q, %v", value, err)
	}
	if err := s.View(context.Background(), "other", func(tx store.Tx) error {
		if value, err := tx.Get("k"); string(value) != "other/k=x" {
			t.Errorf("%q, %v", value, err)
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
}

func TestSteps(t *testing.T) {
	path, link := filepath.Join(t.TempDir(), "club.db"), filepath.Join(t.TempDir(), "linked.db")
	manyValues(t, path)
	before, err := os.ReadFile(path)
	if err := errors.Join(err, os.Symlink(path, link)); err != nil {
		t.Fatal(err)
	}
	reading, err := inSteps(link, true, nothing, nil)
	if err != nil {
		t.Fatal(err)
	}
	stepped(t, reading)
	if err := put(reading, "k", nil); !errors.Is(err, store.ErrReadOnly) {
		t.Errorf("written: %v", err)
	}
	if err := reading.Close(); err != nil {
		t.Error(err)
	}
	if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
		t.Errorf("reading changed the file: %v", err)
	}
	told := ""
	for range 2 { // the second time there is nothing left to do
		s, err := inSteps(link, false, nothing, func(text string) { told += text })
		if err != nil {
			t.Fatal(err)
		}
		stepped(t, s)
		if _, err := inSteps(link, false, nothing, nil); err == nil {
			t.Error("the new file is not locked")
		}
		if err := errors.Join(put(s, "after", nil), s.Close()); err != nil {
			t.Error(err)
		}
		alone(t, path)
		alone(t, link)
	}
	want := fmt.Sprintf("Taking %s from schema %d to %d.", link, bolt.Schema, bolt.Schema+2)
	if !strings.HasPrefix(told, want) || strings.Count(told, "Taking") != 1 {
		t.Errorf("told %q, want %q once", told, want)
	}
	if got := number(t, path); got != bolt.Schema+2 {
		t.Errorf("schema %d", got)
	}
	checkFile(t, path)
	refused(t, bolt.Options{Path: path, Now: madeAt}, fmt.Sprintf("has schema %d and this program knows schemas up to %d", bolt.Schema+2, bolt.Schema))
}

// TestStepsFail: a step that fails or panics leaves the file as it was, and nothing beside it.
func TestStepsFail(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	manyValues(t, path)
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for what, second := range map[string]bolt.SchemaStep{
		"a bad record": func(*bbolt.DB) error { return errors.New("a bad record") },
		"a bad page":   func(*bbolt.DB) error { panic("a bad page") }, // as bbolt does where a page is damaged
	} {
		for _, readOnly := range []bool{false, true} {
			_, err := inSteps(path, readOnly, second, nil)
			if err == nil || !strings.Contains(err.Error(), what) || !strings.Contains(err.Error(), "could not be taken to schema") {
				t.Errorf("%s: %v", what, err)
			}
			if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
				t.Errorf("the file was changed: %v", err)
			}
			alone(t, path)
		}
	}
	s := opened(t, path)
	if err := errors.Join(put(s, "after", nil), s.Close()); err != nil {
		t.Error("it is not let go of:", err)
	}
}

// TestStepsKilled kills a process in the second step: the file is as it was, and the next opening goes through.
func TestStepsKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	manyValues(t, path)
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dying := start(t, "dies-migrating", path)
	for dying.said.Scan() {
	}
	_ = dying.Wait() // "signal: killed"
	if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
		t.Errorf("the file was changed: %v", err)
	}
	if _, err := os.Stat(path + ".migrating"); err != nil {
		t.Errorf("it was not killed in the middle: %v", err)
	}
	s, err := inSteps(path, false, nothing, nil)
	if err != nil {
		t.Fatal(err)
	}
	stepped(t, s)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	alone(t, path)
	checkFile(t, path)
}

// diesMigrating ends the process in the second step.
func diesMigrating(path string) error {
	fmt.Println("migrating")
	_, err := inSteps(path, false, func(*bbolt.DB) error { return syscall.Kill(os.Getpid(), syscall.SIGKILL) }, nil)
	return err
}
