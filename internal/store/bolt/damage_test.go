package bolt_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// several makes a store with clubs of several pages, and gives what it keeps and the file's bytes.
func several(t testing.TB) (keeps map[string]map[string]string, data []byte) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "club.db")
	s, random := opened(t, path), rand.New(rand.NewPCG(1, 2))
	keeps = map[string]map[string]string{}
	for _, club := range []string{"fen", "moor", "tiny"} {
		keeps[club] = map[string]string{}
		for round := range 12 { // so that pages become free, too
			err := s.Update(t.Context(), club, func(tx store.Tx) error {
				for i := range 60 {
					key := fmt.Sprintf("member/%03d", random.IntN(300))
					if club == "tiny" && i > 2 {
						break
					}
					if i%10 == 9 && round < 11 {
						delete(keeps[club], key)
						if err := tx.Delete(key); err != nil {
							return err
						}
						continue
					}
					value := strings.Repeat(string(rune('a'+random.IntN(26))), random.IntN(700))
					if i == 5 {
						value = strings.Repeat("over many pages ", 1000)
					}
					keeps[club][key] = value
					if err := tx.Put(key, []byte(value)); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return keeps, data
}

// served reads a damaged file in every way, and reports what is served of it that was never written, and what is not though it
// was. It tells whether anything showed the damage. A club is read by a store of its own, since the first damage ends all.
func served(t *testing.T, what, path string, keeps map[string]map[string]string) (shown bool) {
	t.Helper()
	for club := range keeps {
		s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt})
		if err != nil {
			tells(t, what, path, err)
			return true
		}
		for key := range 300 {
			key := fmt.Sprintf("member/%03d", key)
			want, there := keeps[club][key]
			err := s.View(context.Background(), club, func(tx store.Tx) error {
				value, err := tx.Get(key)
				if err == nil && (value != nil != there || string(value) != want) {
					t.Errorf("%s: %s %s is served as %.20q", what, club, key, value)
				}
				return err
			})
			if shown = shown || err != nil; err != nil {
				tells(t, what, path, err)
				break
			}
		}
		_ = s.Close()
		shown = scanned(t, what, path, club, keeps[club]) || shown
	}
	return shown
}

// scanned is served for a scan up and one down.
func scanned(t *testing.T, what, path, club string, keeps map[string]string) (shown bool) {
	for _, down := range []bool{false, true} {
		s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt})
		if err != nil {
			return true
		}
		count, last := 0, ""
		err = s.View(context.Background(), club, func(tx store.Tx) error {
			visit := func(key string, value []byte) (bool, error) {
				if want, there := keeps[key]; !there || string(value) != want || last != "" && (key > last) == down {
					t.Errorf("%s: a scan of %s gives %s as %.20q", what, club, key, value)
				}
				last = key
				count++
				return true, nil
			}
			if down {
				return tx.ScanDown("", "", visit)
			}
			return tx.Scan("", "", visit)
		})
		if err == nil && count != len(keeps) {
			t.Errorf("%s: a scan of %s gives %d records of %d", what, club, count, len(keeps))
		}
		if err != nil {
			shown = true
			tells(t, what, path, err)
			if err := s.Update(context.Background(), "other", func(store.Tx) error { t.Error("it ran"); return nil }); err == nil {
				t.Errorf("%s: written to after damage was found", what)
			}
		}
		_ = s.Close()
	}
	return shown
}

// tells holds an error against what a person must be told.
func tells(t *testing.T, what, path string, err error) {
	t.Helper()
	text := err.Error()
	if !strings.Contains(text, path) || !strings.Contains(text, "damage") || !strings.Contains(text, "restore") {
		t.Errorf("%s: %v", what, err)
	}
}

// TestFlippedBits flips bits anywhere in a file: nothing that was not written is ever served, nothing is missing unseen.
func TestFlippedBits(t *testing.T) {
	keeps, good := several(t)
	random := rand.New(rand.NewPCG(3, 4))
	rounds, shown := 300, 0
	if testing.Short() {
		rounds = 60
	}
	for round := range rounds {
		path := filepath.Join(t.TempDir(), "club.db")
		data, what := bytes.Clone(good), ""
		for range 1 + round%3 {
			bit := random.IntN(len(data) * 8)
			if round%4 == 0 { // what stands at the beginning of a page says what it is
				page := random.IntN(len(data) / os.Getpagesize())
				bit = page*os.Getpagesize()*8 + random.IntN(8*64)
			}
			data[bit/8] ^= 1 << (bit % 8)
			what += fmt.Sprintf("bit %d of page %d ", bit%(os.Getpagesize()*8), bit/8/os.Getpagesize())
		}
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if served(t, what, path, keeps) {
			shown++
		}
	}
	t.Logf("%d of %d damaged files were refused; in the others no byte in use was hit", shown, rounds)
	if shown < rounds/10 {
		t.Errorf("only %d of %d", shown, rounds)
	}
}

// TestVerify finds any changed byte of any record, and nothing in a sound file.
func TestVerify(t *testing.T) {
	_, good := several(t)
	verify := func(data []byte) error {
		path := filepath.Join(t.TempDir(), "club.db")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, ReadOnly: true})
		if err != nil {
			return err
		}
		told := int64(0)
		err = s.Verify(t.Context(), func(done, total int64) {
			if done < told || done > total {
				t.Errorf("%d after %d of %d", done, told, total)
			}
			told = done
		})
		return errors.Join(err, s.Close())
	}
	if err := verify(good); err != nil {
		t.Error(err)
	}
	var damaged *store.DamagedError
	bad := bytes.ReplaceAll(good, []byte("over many"), []byte("ovex many"))
	if err := verify(bad); !errors.As(err, &damaged) || !strings.Contains(err.Error(), "gritwardd verify --data") {
		t.Errorf("changed values: %v", err)
	}
	if err := verify(bytes.ReplaceAll(good, []byte("member/1"), []byte("member/0"))); err == nil {
		t.Error("changed keys passed")
	}
}

// TestDamagedWhileServed damages a file that is being served: the first transaction that comes upon it, and all later ones, say so;
// nothing panics, nobody hangs, and the store can be closed.
func TestDamagedWhileServed(t *testing.T) {
	for name, spoil := range map[string]func(path string) error{
		"cut short": func(path string) error { return os.Truncate(path, 3*int64(os.Getpagesize())) },
		"cut off":   func(path string) error { return os.Truncate(path, 0) },
		"overwritten": func(path string) error {
			info, err := os.Stat(path)
			if err != nil {
				return err
			}
			data := bytes.Repeat([]byte{0xa5}, int(info.Size())-2*os.Getpagesize())
			return over(path, data, 2*int64(os.Getpagesize()))
		},
		"all of it": func(path string) error { return over(path, make([]byte, 40*os.Getpagesize()), 0) },
	} {
		for _, first := range []string{"View", "Update", "Clubs", "Verify", "many"} {
			t.Run(name+" "+first, func(t *testing.T) {
				_, good := several(t)
				path := filepath.Join(t.TempDir(), "club.db")
				if err := os.WriteFile(path, good, 0o600); err != nil {
					t.Fatal(err)
				}
				s := opened(t, path)
				if err := spoil(path); err != nil {
					t.Fatal(err)
				}
				runs := map[string]func() error{
					"View":   func() error { _, err := get(s, "member/001"); return err },
					"Update": func() error { return put(s, "member/001", nil) },
					"Clubs":  func() error { _, err := s.Clubs(t.Context()); return err },
					"Verify": func() error { return s.Verify(t.Context(), nil) },
				}
				if first == "many" {
					var group sync.WaitGroup
					for range 10 {
						for _, run := range runs {
							group.Go(func() { _ = run() })
						}
					}
					group.Wait()
				} else if err := runs[first](); err == nil {
					t.Error("the damage was passed over")
				}
				if s.Whole().Err() == nil {
					t.Error("nobody is told")
				}
				for what, run := range runs {
					var damaged *store.DamagedError
					if err := run(); !errors.As(err, &damaged) || damaged.Path != path {
						t.Errorf("%s afterwards: %v", what, err)
					}
				}
				if err := s.Close(); err != nil {
					t.Error(err)
				}
			})
		}
	}
}

// over writes over a part of a file.
func over(path string, data []byte, at int64) error {
	file, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = file.WriteAt(data, at)
	return errors.Join(err, file.Close())
}
