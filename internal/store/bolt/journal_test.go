package bolt_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// besides copies a store's file and its journal as they are, as a loss of power would leave them, and gives where.
func besides(t testing.TB, path string) (copied string) {
	t.Helper()
	copied = filepath.Join(t.TempDir(), "club.db")
	for _, ending := range []string{"", ".journal"} {
		data, err := os.ReadFile(path + ending)
		if err := errors.Join(err, os.WriteFile(copied+ending, data, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	return copied
}

// standing opens a store and writes numbers from 0 on, of which some stand in the file and the others in the journal alone.
func standing(t testing.TB, path string, filed, all int) *bolt.Store {
	t.Helper()
	s := opened(t, path)
	for i := range all {
		if i == filed {
			if err := s.FileNow(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		if err := put(s, fmt.Sprint("n", i), fmt.Append(nil, "value ", i)); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// holds wants the numbers up to one, and none from there on.
func holds(t testing.TB, what string, s store.Store, all int) {
	t.Helper()
	for i := range all + 5 {
		value, err := get(s, fmt.Sprint("n", i))
		if want := fmt.Sprint("value ", i); err != nil || (i < all) != (string(value) == want) || i >= all && value != nil {
			t.Errorf("%s: number %d is %q, %v; there were %d", what, i, value, err, all)
		}
	}
}

func bytesIn(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestTakenOver: what stands in the journal alone when a process ends is there for whoever opens the store next: to write, when it goes
// into the file and off the journal; to read, when neither is touched; and for a backup.
func TestTakenOver(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := standing(t, path, 5, 9)
	left := besides(t, path)
	var backup bytes.Buffer
	if err := s.Backup(t.Context(), &backup, func(int64) {}); err != nil || !bytes.Contains(backup.Bytes(), []byte("value 8")) {
		t.Errorf("a backup of what is served has not all: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	alone(t, path)
	file, journal := bytesIn(t, left), bytesIn(t, left+".journal")
	if bytes.Contains(file, []byte("value 8")) || !bytes.Contains(journal, []byte("value 8")) {
		t.Fatal("it does not stand in the journal alone: this test shows nothing")
	}
	for _, asIs := range []bool{false, true} {
		reading, err := bolt.Open(bolt.Options{Path: left, Now: madeAt, ReadOnly: true, AsIs: asIs})
		if err != nil {
			t.Fatal(err)
		}
		backup := filepath.Join(t.TempDir(), "a.backup")
		if asIs {
			to, err := os.Create(backup)
			if err := errors.Join(err, reading.Backup(t.Context(), to, func(int64) {}), to.Close()); err != nil {
				t.Fatal(err)
			}
			restored := opened(t, backup)
			holds(t, "in a backup", restored, 9)
			if err := restored.Close(); err != nil {
				t.Error(err)
			}
		} else {
			holds(t, "read only", reading, 9)
			if err := reading.Verify(t.Context(), nil); err != nil {
				t.Error(err)
			}
		}
		if err := reading.Close(); err != nil {
			t.Error(err)
		}
	}
	if !bytes.Equal(bytesIn(t, left), file) || !bytes.Equal(bytesIn(t, left+".journal"), journal) {
		t.Error("who only reads changed the file or the journal")
	}
	again := opened(t, left)
	alone(t, left)
	holds(t, "taken over", again, 9)
	if err := errors.Join(again.Verify(t.Context(), nil), again.Close(), os.WriteFile(left+".journal", journal, 0o600)); err != nil {
		t.Fatal(err)
	}
	again = opened(t, left) // as if power had been lost before the journal was emptied
	holds(t, "taken over and lost power", again, 9)
	if err := again.Close(); err != nil {
		t.Error(err)
	}
	checkFile(t, left)
}

// TestJournalLinked: of a store that is opened by a link the journal lies beside the file itself, so that it is found by the file's own name.
func TestJournalLinked(t *testing.T) {
	path, link := filepath.Join(t.TempDir(), "club.db"), filepath.Join(t.TempDir(), "link.db")
	if err := errors.Join(opened(t, path).Close(), os.Symlink(path, link)); err != nil {
		t.Fatal(err)
	}
	s := standing(t, link, 2, 4)
	left := besides(t, path)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	again := opened(t, left)
	holds(t, "by the file's own name", again, 4)
	if err := again.Close(); err != nil {
		t.Error(err)
	}
}

// TestJournalCut cuts the journal off at every byte, as a loss of power may: what was acknowledged before the last one is there, the last one
// whole or not at all.
func TestJournalCut(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := standing(t, path, 2, 5)
	before := len(bytesIn(t, path+".journal"))
	if err := put(s, "n5", []byte("value 5")); err != nil {
		t.Fatal(err)
	}
	left := besides(t, path)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	file, journal := bytesIn(t, left), bytesIn(t, left+".journal")
	for cut := before; cut <= len(journal); cut++ {
		for what, rest := range map[string][]byte{"nothing": nil, "noughts": make([]byte, 300), "other bytes": bytes.Repeat([]byte{0x5a}, 300)} {
			if err := errors.Join(os.WriteFile(left, file, 0o600), os.WriteFile(left+".journal", append(bytes.Clone(journal[:cut]), rest...), 0o600)); err != nil {
				t.Fatal(err)
			}
			again, err := bolt.Open(bolt.Options{Path: left, Now: madeAt})
			if err != nil {
				if cut >= len(journal)-1 && strings.Contains(err.Error(), "is damaged") {
					continue // what is missing is a bit: that is taken for damage
				}
				t.Fatalf("cut off at %d of %d, with %s behind: %v", cut, len(journal), what, err)
			}
			want := 5
			if cut == len(journal) {
				want = 6
			}
			holds(t, fmt.Sprintf("cut off at %d of %d, with %s behind", cut, len(journal), what), again, want)
			if err := again.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// TestJournalDamaged flips every bit of a journal, one at a time: what was acknowledged is all there, or the store is refused with a way
// out; nothing is lost unseen.
func TestJournalDamaged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := standing(t, path, 2, 5)
	left := besides(t, path)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	journal, refused := bytesIn(t, left+".journal"), 0
	for bit := range 8 * len(journal) {
		data := bytes.Clone(journal)
		data[bit/8] ^= 1 << (bit % 8)
		if err := os.WriteFile(left+".journal", data, 0o600); err != nil {
			t.Fatal(err)
		}
		reading, err := bolt.Open(bolt.Options{Path: left, Now: madeAt, ReadOnly: true})
		if err != nil {
			if refused++; !strings.Contains(err.Error(), left+".journal") || !strings.Contains(err.Error(), "move the journal away") {
				t.Fatalf("bit %d: %v", bit, err)
			}
			continue
		}
		holds(t, fmt.Sprint("bit ", bit), reading, 5)
		if err := reading.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if refused < 8*len(journal)/2 {
		t.Errorf("%d of %d bits were refused", refused, 8*len(journal))
	}
	data := bytes.Clone(journal)
	copy(data[bytes.Index(data, []byte("value 3")):], "damaged")
	if err := os.WriteFile(left+".journal", data, 0o600); err != nil {
		t.Fatal(err)
	}
	if reading, err := bolt.Open(bolt.Options{Path: left, Now: madeAt}); err == nil {
		t.Error("with a whole record behind it: what is damaged was passed over", reading.Close())
	}
}

// TestJournalOfAnother: a journal is not taken over into a file that it does not belong to: of one that has all of it already nothing
// is; beside any other the store is refused; and Replace takes it away.
func TestJournalOfAnother(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := standing(t, path, 2, 5)
	old := bytesIn(t, path+".journal")
	if err := errors.Join(put(s, "n3", []byte("written later")), s.Close()); err != nil {
		t.Fatal(err)
	}
	beside := func(journal []byte) {
		t.Helper()
		if err := os.WriteFile(path+".journal", journal, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	beside(old) // as if its removal had not reached the disk
	again := opened(t, path)
	if value, err := get(again, "n3"); err != nil || string(value) != "written later" {
		t.Errorf("an old journal was taken over: %q, %v", value, err)
	}
	if err := errors.Join(put(again, "n6", nil), again.Close()); err != nil {
		t.Fatal(err)
	}
	beside(old)
	for _, readOnly := range []bool{false, true} {
		refused, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, ReadOnly: readOnly})
		if err == nil {
			t.Fatal("a journal of another state was passed over", refused.Close())
		}
		for _, want := range []string{path + ".journal", path, "from a backup by hand", "move the journal away"} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%v, without %q", err, want)
			}
		}
	}
	if !bytes.Equal(bytesIn(t, path+".journal"), old) {
		t.Error("the journal of another was touched")
	}
	fresh := filepath.Join(filepath.Dir(path), "fresh.db")
	if err := errors.Join(opened(t, fresh).Close(), bolt.Replace(bolt.Options{Path: path, LockTimeout: bolt.DefaultLockTimeout}, fresh)); err != nil {
		t.Fatal(err)
	}
	alone(t, path)
	if err := opened(t, path).Close(); err != nil {
		t.Error(err)
	}
}

// TestJournalFails: what cannot be written into the journal, or brought to the disk there, goes into the file, and is acknowledged; where that
// fails, too, who wrote is told, nobody else, and nothing is there by half.
func TestJournalFails(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	options, fails, syncs := bolt.Options{Path: path, Now: madeAt}, atomic.Bool{}, atomic.Int64{}
	options.SyncJournal(func(file *os.File) error {
		if syncs.Add(1); fails.Load() {
			return syscall.EIO
		}
		return file.Sync()
	})
	s, err := bolt.Open(options)
	if err != nil {
		t.Fatal(err)
	}
	write := func(i int) error { return put(s, fmt.Sprint("n", i), fmt.Append(nil, "value ", i)) }
	if err := errors.Join(write(0), write(1)); err != nil {
		t.Fatal(err)
	}
	fails.Store(true)
	commits := s.Commits()
	if err := write(2); err != nil || s.Commits() != commits+1 {
		t.Fatalf("%v, %d commits", err, s.Commits()-commits)
	}
	image := opened(t, besides(t, path))
	holds(t, "when the journal fails", image, 3)
	back := s.Writes(func(_ func([]byte, int64) (int, error), _ []byte, _ int64) (int, error) { return 0, syscall.EIO })
	if err := write(3); !errors.Is(err, syscall.EIO) || !strings.Contains(err.Error(), "look at the disk's space and health") {
		t.Errorf("when file and journal fail: %v", err)
	}
	holds(t, "when file and journal fail", s, 3)
	fails.Store(false)
	tried := syncs.Load()
	if err := write(3); !errors.Is(err, syscall.EIO) || syncs.Load() != tried {
		t.Errorf("the journal was written over before the file was whole again: %v", err)
	}
	back()
	if err := errors.Join(write(3), write(4)); err != nil {
		t.Error("when the disk works again:", err)
	}
	if tried == syncs.Load() {
		t.Error("the journal is not used again")
	}
	last := opened(t, besides(t, path))
	holds(t, "when the disk works again", last, 5)
	if err := errors.Join(image.Close(), last.Close(), s.Close()); err != nil {
		t.Error(err)
	}
}

// TestNoRoomToTakeOver: where the file takes no more when a store is opened, what stands in the journal is served from there, stays there, and
// goes into the file when that takes it again.
func TestNoRoomToTakeOver(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := standing(t, path, 2, 5)
	left := besides(t, path)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := bolt.TakeOverFails(bolt.Options{Path: left, Now: madeAt}, func(s *bolt.Store, again func()) {
		holds(t, "served from the journal", s, 5)
		third := opened(t, besides(t, left))
		holds(t, "and after a loss of power", third, 5)
		if err := third.Close(); err != nil {
			t.Error(err)
		}
		if clubs, err := s.Clubs(t.Context()); err != nil || len(clubs) != 1 {
			t.Error(clubs, err)
		}
		again()
		if err := put(s, "n5", []byte("value 5")); err != nil {
			t.Error(err)
		}
		holds(t, "when there is room again", s, 6)
	}); err != nil {
		t.Fatal(err)
	}
	alone(t, left)
	last := opened(t, left)
	holds(t, "in the end", last, 6)
	if err := errors.Join(last.Verify(t.Context(), nil), last.Close()); err != nil {
		t.Error(err)
	}
}

// TestWhileAppending: who writes or reads on top of what is on its way into the journal is answered after it; who only reads sees it when
// it is there.
func TestWhileAppending(t *testing.T) {
	options, holds := bolt.Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: madeAt}, atomic.Bool{}
	held, free := make(chan struct{}, 9), make(chan struct{})
	options.SyncJournal(func(file *os.File) error {
		if holds.Load() {
			held <- struct{}{}
			<-free
		}
		return file.Sync()
	})
	s, err := bolt.Open(options)
	if err != nil {
		t.Fatal(err)
	}
	if err := put(s, "a", []byte("1")); err != nil {
		t.Fatal(err)
	}
	holds.Store(true)
	first, reader := make(chan error, 1), make(chan error, 1)
	go func() { first <- put(s, "a", []byte("2")) }()
	<-held
	ran := make(chan struct{})
	go func() {
		reader <- s.Update(context.Background(), "moor", func(tx store.Tx) error {
			defer close(ran)
			value, err := tx.Get("a")
			if string(value) != "2" {
				t.Errorf("a is %q for who comes after", value)
			}
			return err
		})
	}()
	<-ran
	if value, err := get(s, "a"); err != nil || string(value) != "1" {
		t.Errorf("who only reads sees %q, %v, before the disk has it", value, err)
	}
	select {
	case <-first:
		t.Error("who wrote was answered before the disk had it")
	case <-reader:
		t.Error("who read was answered before the disk had what was read")
	default:
	}
	holds.Store(false)
	close(free)
	if err := errors.Join(<-first, <-reader); err != nil {
		t.Error(err)
	}
	if value, err := get(s, "a"); err != nil || string(value) != "2" {
		t.Errorf("afterwards: %q, %v", value, err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestJournalFiled: the journal is brought into the file when it is full, and when something has stood in it for a while.
func TestJournalFiled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := opened(t, path)
	commits := s.Commits()
	for i := range 40 {
		if err := put(s, fmt.Sprint("large", i), make([]byte, 100_000)); err != nil {
			t.Fatal(err)
		}
	}
	if made := s.Commits() - commits; made < 3 || made > 30 {
		t.Errorf("4 MB in 40 batches took %d commits, of a journal of 1 MiB", made)
	}
	if err := put(s, "larger than the journal", make([]byte, 3<<20)); err != nil {
		t.Fatal(err)
	}
	if size := len(bytesIn(t, path+".journal")); size > 1<<20 {
		t.Errorf("the journal has %d bytes", size)
	}
	if err := s.FileNow(t.Context()); err != nil || s.Standing() != 0 {
		t.Errorf("%d records wait in memory for the file, which has them: %v", s.Standing(), err)
	}
	if err := put(s, "small", []byte("waits for a while")); err != nil {
		t.Fatal(err)
	}
	for !bytes.Contains(bytesIn(t, path), []byte("waits for a while")) { // until the test's own time is over
		runtime.Gosched()
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	checkFile(t, path)
}

// TestClubsInJournal: a club is listed as soon as it has a record, and no longer than it has one.
func TestClubsInJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	s := opened(t, path)
	write := func(club string, use func(store.Tx) error) {
		t.Helper()
		if err := s.Update(t.Context(), club, use); err != nil {
			t.Fatal(err)
		}
	}
	lists := func(want ...string) {
		t.Helper()
		for _, one := range []*bolt.Store{s, opened(t, besides(t, path))} {
			if got, err := one.Clubs(t.Context()); err != nil || strings.Join(got, " ") != strings.Join(want, " ") {
				t.Errorf("%v, %v, want %v", got, err, want)
			}
			if one != s {
				if err := one.Close(); err != nil {
					t.Error(err)
				}
			}
		}
	}
	set := func(tx store.Tx) error { return tx.Put("a", nil) }
	gone := func(tx store.Tx) error { return tx.Delete("a") }
	write("fell", set)
	lists("fell")
	if err := s.FileNow(t.Context()); err != nil {
		t.Fatal(err)
	}
	write("beck", set)
	lists("beck", "fell")
	write("fell", gone)
	lists("beck")
	write("beck", gone)
	lists()
	write("beck", set)
	if err := s.FileNow(t.Context()); err != nil {
		t.Fatal(err)
	}
	write("moor", set)
	lists("beck", "moor")
	if err := errors.Join(s.Backup(t.Context(), io.Discard, func(int64) {}), s.Close()); err != nil {
		t.Error(err)
	}
}
