package storetest

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gritward/internal/store"
)

func clubChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"clubs do not see each other": checkClubsApart,
		"bad club ids are refused":    checkBadClubs,
		"clubs with keys are listed":  checkClubList,
	}
}

func checkClubsApart(t *testing.T, open Open) {
	s := open(t)
	// One id begins with the other, and the keys would meet if ids and keys were only joined.
	put(t, s, clubA, entry{"x", "A"}, entry{"wheelers", "A"})
	put(t, s, clubB, entry{"x", "B"}, entry{"-wheelersx", "B"})
	must(t, update(s, func(tx store.Tx) error { return tx.Delete("-wheelersx") }))
	if diff := cmp.Diff([]entry{{"wheelers", "A"}, {"x", "A"}}, all(t, s, clubA)); diff != "" {
		t.Errorf("first club: -want +got:\n%s", diff)
	}
	if diff := cmp.Diff([]entry{{"-wheelersx", "B"}, {"x", "B"}}, all(t, s, clubB)); diff != "" {
		t.Errorf("second club: -want +got:\n%s", diff)
	}
}

func checkBadClubs(t *testing.T, open Open) {
	s := open(t)
	for _, club := range []string{"", "-", "Moor", "a/b", "a\x00", "..", "meta\n", strings.Repeat("a", 41), "ü", "\xff"} {
		unused := func(store.Tx) error { t.Errorf("a transaction ran in club %q", club); return nil }
		for what, err := range map[string]error{
			"Update": s.Update(context.Background(), club, unused), "View": s.View(context.Background(), club, unused),
		} {
			if !errors.Is(err, store.ErrClubID) {
				t.Errorf("%s of club %q: %v, want ErrClubID", what, club, err)
			}
		}
	}
}

func checkClubList(t *testing.T, open Open) {
	s := open(t)
	listed := func(want ...string) {
		t.Helper()
		got, err := s.Clubs(context.Background())
		if err != nil || strings.Join(got, " ") != strings.Join(want, " ") {
			t.Errorf("Clubs() = %v, %v; want %v", got, err, want)
		}
	}
	listed()
	must(t, s.View(context.Background(), "only-read", func(store.Tx) error { return nil }))
	must(t, s.Update(context.Background(), "nothing-put", func(tx store.Tx) error { return tx.Delete("x") }))
	_ = s.Update(context.Background(), "failed", func(tx store.Tx) error { return errors.Join(tx.Put("x", nil), errors.New("no")) })
	listed()
	put(t, s, "zeta", entry{"x", ""})
	put(t, s, "7-hills", entry{"x", ""})
	put(t, s, "meta", entry{"x", ""})
	listed("7-hills", "meta", "zeta")
	must(t, s.Update(context.Background(), "meta", func(tx store.Tx) error { return tx.Delete("x") }))
	listed("7-hills", "zeta")
	must(t, s.Close())
	s = open(t)
	listed("7-hills", "zeta")
}

func transactionChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"a failed transaction leaves nothing":   checkFailure,
		"a panic leaves nothing and goes on":    checkPanic,
		"a view refuses to write":               checkReadOnly,
		"an error of a view is passed on":       checkViewError,
		"a transaction that is over is refused": checkTxOver,
		"what is committed outlives the store":  checkReopen,
	}
}

// spoil writes over, adds and deletes.
func spoil(tx store.Tx) error {
	return errors.Join(tx.Put("a", []byte("spoilt")), tx.Put("new", []byte("spoilt")), tx.Delete("b"))
}

// unspoilt checks that nothing of spoil stayed.
func unspoilt(t *testing.T, s store.Store) {
	t.Helper()
	if diff := cmp.Diff([]entry{{"a", "1"}, {"b", "2"}}, all(t, s, clubA)); diff != "" {
		t.Errorf("something stayed: -want +got:\n%s", diff)
	}
}

func checkFailure(t *testing.T, open Open) {
	s, refusal := open(t), errors.New("refused")
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	err := update(s, func(tx store.Tx) error {
		must(t, spoil(tx))
		return refusal
	})
	if err != refusal {
		t.Errorf("the error is %v, want the one that was returned, as it is", err)
	}
	unspoilt(t, s)
	must(t, s.Close())
	unspoilt(t, open(t))
}

func checkPanic(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	for what, run := range map[string]func(store.Store, func(store.Tx) error) error{"Update": update, "View": view} {
		func() {
			defer func() {
				if got := recover(); got != "a fault" {
					t.Errorf("%s: recovered %v, want the panic as it was", what, got)
				}
			}()
			err := run(s, func(tx store.Tx) error {
				_ = spoil(tx)
				panic("a fault")
			})
			t.Errorf("%s returned %v", what, err)
		}()
		unspoilt(t, s)
	}
	put(t, s, clubA, entry{"c", "3"}) // and the store works on
	if got := all(t, s, clubA); len(got) != 3 {
		t.Errorf("after the panics: %v", got)
	}
}

func checkReadOnly(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	for _, club := range []string{clubA, "never-written"} {
		must(t, s.View(context.Background(), club, func(tx store.Tx) error {
			for _, key := range []string{"a", "new"} {
				if err := tx.Put(key, nil); !errors.Is(err, store.ErrReadOnly) {
					t.Errorf("Put: %v, want ErrReadOnly", err)
				}
				if err := tx.Delete(key); !errors.Is(err, store.ErrReadOnly) {
					t.Errorf("Delete: %v, want ErrReadOnly", err)
				}
			}
			return nil
		}))
	}
	unspoilt(t, s)
}

func checkViewError(t *testing.T, open Open) {
	refusal := errors.New("refused")
	if err := view(open(t), func(store.Tx) error { return refusal }); err != refusal {
		t.Errorf("the error is %v, want the one that was returned, as it is", err)
	}
}

func checkTxOver(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	var kept []store.Tx
	keep := func(tx store.Tx) error { kept = append(kept, tx); return nil }
	must(t, view(s, keep))
	must(t, update(s, keep))
	_ = update(s, func(tx store.Tx) error { return errors.Join(keep(tx), spoil(tx), errors.New("no")) })
	never := func(string, []byte) (bool, error) { t.Error("visited"); return true, nil }
	for _, tx := range kept {
		_, getErr := tx.Get("a")
		_, isErr := tx.Is("a", nil)
		for what, err := range map[string]error{
			"Get": getErr, "Is": isErr, "Put": tx.Put("a", nil), "Delete": tx.Delete("a"), "Scan": tx.Scan("", "", never), "ScanDown": tx.ScanDown("", "", never),
		} {
			if !errors.Is(err, store.ErrClosed) {
				t.Errorf("%s after the transaction: %v, want ErrClosed", what, err)
			}
		}
	}
	unspoilt(t, s)
}

func checkReopen(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "0"}, entry{"b", "2"})
	put(t, s, clubA, entry{"a", "1"})
	put(t, s, clubB, entry{"a", "other"})
	for range 3 {
		must(t, s.Close())
		s = open(t)
		unspoilt(t, s)
	}
}
