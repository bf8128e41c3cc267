package bolt_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// backedUp takes a backup into a file.
func backedUp(t testing.TB, s *bolt.Store) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "club.backup")
	to, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	var told int64
	if err := errors.Join(s.Backup(t.Context(), to, func(total int64) { told = total }), to.Close()); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || info.Size() != told {
		t.Errorf("%d bytes, %v; %d were announced", info.Size(), err, told)
	}
	return path
}

// unsealed checks a backup and gives the store's file in it.
func unsealed(path string) (string, bolt.Seal, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", bolt.Seal{}, err
	}
	defer file.Close()
	to, err := os.Create(path + ".db")
	if err != nil {
		return "", bolt.Seal{}, err
	}
	seal, whole, err := bolt.Unseal(context.Background(), file, to, nil)
	if data, readErr := os.ReadFile(path); err == nil && (readErr != nil || sha256.Sum256(data) != whole) {
		err = fmt.Errorf("the digest of the whole is %x, %w", whole, readErr)
	}
	return path + ".db", seal, errors.Join(err, to.Close())
}

// TestBackupWhileWriting backs up again and again while others write pairs of numbers in order: what is in a backup is a beginning
// of what was written, with both of each pair, and at least what was acknowledged before it began.
func TestBackupWhileWriting(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "club.db"))
	defer func() { _ = s.Close() }()
	stop, ended := make(chan struct{}), sync.WaitGroup{}
	var mu sync.Mutex
	acknowledged := 0
	ended.Go(func() {
		for i := 1; ; i++ {
			select {
			case <-stop:
				return
			default:
			}
			err := s.Update(context.Background(), "moor", func(tx store.Tx) error {
				value := bytes.Repeat([]byte{byte(i)}, 3000)
				return errors.Join(tx.Put(fmt.Sprintf("a%06d", i), value), tx.Put(fmt.Sprintf("b%06d", i), value), tx.Delete(fmt.Sprintf("a%06d", i-50)))
			})
			if err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			acknowledged = i
			mu.Unlock()
		}
	})
	ended.Go(func() { // a Scrub puts another file in place meanwhile
		if err := s.Scrub(context.Background()); err != nil {
			t.Error(err)
		}
	})
	for range 12 {
		mu.Lock()
		least := acknowledged
		mu.Unlock()
		path, seal, err := unsealed(backedUp(t, s))
		if err != nil || !seal.TakenAt.Equal(madeAt()) {
			t.Fatalf("%v, %v", seal, err)
		}
		held, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, ReadOnly: true, Suspect: true})
		if err != nil {
			t.Fatal(err)
		}
		var as, bs []string
		err = held.View(t.Context(), "moor", func(tx store.Tx) error {
			return tx.Scan("", "", func(key string, value []byte) (bool, error) {
				if len(value) != 3000 {
					t.Errorf("%s has %d bytes", key, len(value))
				}
				if key[0] == 'a' {
					as = append(as, key[1:])
				} else {
					bs = append(bs, key[1:])
				}
				return true, nil
			})
		})
		if err := errors.Join(err, held.Close()); err != nil {
			t.Fatal(err)
		}
		if len(bs) < least || len(bs) > 0 && (bs[len(bs)-1] != fmt.Sprintf("%06d", len(bs)) || as[len(as)-1] != bs[len(bs)-1] || len(as) != min(len(bs), 50)) {
			t.Errorf("%d of b to %v, %d of a; %d were acknowledged before", len(bs), bs[max(len(bs)-1, 0):], len(as), least)
		}
	}
	close(stop)
	ended.Wait()
}

// TestBackupDamaged: whatever is wrong with a backup is seen.
func TestBackupDamaged(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "club.db"))
	err := put(s, "a", bytes.Repeat([]byte("v"), 9000))
	path := backedUp(t, s)
	good, readErr := os.ReadFile(path)
	if err := errors.Join(err, readErr, s.Close()); err != nil {
		t.Fatal(err)
	}
	flipped := func(at int) []byte {
		data := bytes.Clone(good)
		data[(at+len(data))%len(data)] ^= 4
		return data
	}
	const none, changed = "does not end as a backup", "are not those that were sealed"
	for name, row := range map[string]struct {
		data []byte
		says string
	}{
		"good":             {good, ""},
		"empty":            {nil, none},
		"one byte":         {[]byte("x"), none},
		"without its end":  {good[:len(good)-1], none},
		"the store alone":  {good[:strings.LastIndex(string(good), "\ngritward")], none},
		"the end alone":    {good[strings.LastIndex(string(good), "\ngritward"):], "it should have"},
		"cut in front":     {good[1:], "it should have"},
		"longer":           {append([]byte("x"), good...), "it should have"},
		"the first byte":   {flipped(0), changed},
		"in the middle":    {flipped(len(good) / 2), changed},
		"the last page":    {flipped(-300), changed},
		"the digest":       {flipped(-20), none}, // a digit becomes a letter that is none, or another digest
		"another length":   {bytes.Replace(good, []byte("backup 1, "), []byte("backup 1, 9"), 1), "it should have"},
		"another version":  {bytes.Replace(good, []byte("backup 1, "), []byte("backup 2, "), 1), none},
		"no such day":      {bytes.Replace(good, []byte("2031-11-08T"), []byte("2031-13-08T"), 1), none},
		"text":             {[]byte(strings.Repeat("not a backup\n", 100)), none},
		"newlines":         {bytes.Repeat([]byte("\n"), 1000), none},
		"two ends":         {append(bytes.Clone(good), good[strings.LastIndex(string(good), "\ngritward"):]...), "it should have"},
		"another's digest": {bytes.Replace(good, []byte("SHA-256 "), []byte("SHA-256 0000"), 1)[:len(good)], none},
	} {
		at := filepath.Join(t.TempDir(), "b")
		if err := os.WriteFile(at, row.data, 0o600); err != nil {
			t.Fatal(err)
		}
		_, _, err := unsealed(at)
		if row.says == "" && err != nil || row.says != "" && (err == nil || !strings.Contains(err.Error(), row.says) && !strings.Contains(err.Error(), changed)) {
			t.Errorf("%s: %v, want %q", name, err, row.says)
		}
		if errors.Is(err, bolt.ErrNoBackup) != (err != nil && !strings.Contains(err.Error(), changed)) {
			t.Errorf("%s: %v is or is not ErrNoBackup", name, err)
		}
	}
}

func FuzzSeal(f *testing.F) {
	line := bolt.Seal{Bytes: 4096, TakenAt: madeAt()}.Line()
	for _, end := range []string{line, line[1:], "x" + line, strings.ToUpper(line), "", "\n", "\n\n"} {
		f.Add([]byte(end), int64(4096+len(line)))
	}
	f.Fuzz(func(t *testing.T, end []byte, size int64) {
		seal, err := bolt.ParseSeal(end, size)
		if err != nil {
			if !errors.Is(err, bolt.ErrNoBackup) {
				t.Error(err)
			}
			return
		}
		if again := seal.Line(); !bytes.HasSuffix(end, []byte(again)) || seal.Bytes+int64(len(again)) != size {
			t.Errorf("%q is read as %q, of %d bytes", end, again, size)
		}
	})
}

// TestBackupBrokenOff: an error of the reader, and the end of the context, end a backup, and the store goes on.
func TestBackupBrokenOff(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "club.db"))
	if err := s.Backup(t.Context(), brokenPipe{}, func(int64) {}); !errors.Is(err, io.ErrClosedPipe) {
		t.Error(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	if err := s.Backup(ctx, io.Discard, func(int64) { cancel() }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if err := errors.Join(put(s, "a", nil), s.Close()); err != nil {
		t.Error(err)
	}
	if err := s.Backup(t.Context(), io.Discard, func(int64) {}); !errors.Is(err, store.ErrClosed) {
		t.Errorf("closed: %v", err)
	}
}

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

// TestBackupInPlace: a backup that was put in the place of a store by hand is one, and bears no seal once it is written to.
func TestBackupInPlace(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "club.db"))
	if err := put(s, "a", []byte("1")); err != nil {
		t.Fatal(err)
	}
	path := backedUp(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	reading, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	if value, err := get(reading, "a"); string(value) != "1" {
		t.Errorf("%q, %v", value, err)
	}
	_ = reading.Close()
	if _, _, err := unsealed(path); err != nil {
		t.Errorf("reading broke the seal: %v", err)
	}
	writing := opened(t, path)
	if err := errors.Join(put(writing, "b", bytes.Repeat([]byte("2"), 9000)), writing.Close()); err != nil {
		t.Fatal(err)
	}
	if _, _, err := unsealed(path); !errors.Is(err, bolt.ErrNoBackup) {
		t.Errorf("written to, and %v", err)
	}
	checkFile(t, path)
}

// TestReplace puts a file in the place of a store: not while a process has it open; one that waits for it gets the new one; it
// may be damaged, and lie behind a link.
func TestReplace(t *testing.T) {
	folder := t.TempDir()
	path, with, link := filepath.Join(folder, "club.db"), filepath.Join(folder, "new.db"), filepath.Join(t.TempDir(), "link.db")
	made := func(path, value string) {
		t.Helper()
		s := opened(t, path)
		if err := errors.Join(put(s, "a", []byte(value)), s.Close()); err != nil {
			t.Fatal(err)
		}
	}
	holds := func(want string) {
		t.Helper()
		s := opened(t, path)
		if value, err := get(s, "a"); string(value) != want {
			t.Errorf("%q, %v; want %q", value, err, want)
		}
		_ = s.Close()
		alone(t, path)
	}
	made(path, "old")
	made(with, "new")
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	holder := start(t, "hold", path)
	var locked *store.LockedError
	if err := bolt.Replace(bolt.Options{Path: path, LockTimeout: 50 * time.Millisecond}, with); !errors.As(err, &locked) {
		t.Errorf("it is held, and %v", err)
	}
	if err := errors.Join(holder.in.Close(), holder.Wait()); err != nil {
		t.Fatal(err)
	}
	if err := bolt.Replace(bolt.Options{Path: link, LockTimeout: time.Second}, with); err != nil {
		t.Fatal(err)
	}
	holds("new")
	for name, damaged := range map[string][]byte{"empty": nil, "text": bytes.Repeat([]byte("no store"), 4000), "short": filled(t)[:5000]} {
		made(with, name)
		if err := errors.Join(os.WriteFile(path, damaged, 0o600), bolt.Replace(bolt.Options{Path: path, LockTimeout: time.Second}, with)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		holds(name)
	}
	if err := bolt.Replace(bolt.Options{Path: filepath.Join(folder, "none.db")}, with); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("nothing is there, and %v", err)
	}
}
