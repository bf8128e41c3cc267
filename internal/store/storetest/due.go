package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/store"
)

func dueChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"due": checkDue, "due in large transactions": checkDueLarge, "due after a failure": checkDueFails, "due of a closed store": checkDueClosed,
	}
}

// due lists between two keys.
func due(t rapid.TB, s store.Store, from, before string) []store.Due {
	t.Helper()
	found, err := s.Due(context.Background(), from, before)
	must(t, err)
	return found
}

// dueEnd is above every key that begins with store.DuePrefix.
const dueEnd = "due0"

// scanned is what Due should list, by going through the clubs.
func scanned(t rapid.TB, s store.Store, from, before string) (want []store.Due) {
	t.Helper()
	for _, club := range []string{clubA, clubB} {
		must(t, s.View(context.Background(), club, func(tx store.Tx) error {
			return tx.Scan(store.DuePrefix, "", func(key string, _ []byte) (bool, error) {
				if key >= from && key < before {
					want = append(want, store.Due{Club: club, Key: key})
				}
				return true, nil
			})
		}))
	}
	slices.SortFunc(want, func(a, b store.Due) int {
		if a.Key != b.Key {
			return order(a.Key < b.Key)
		}
		return order(a.Club < b.Club)
	})
	return want
}

func order(less bool) int {
	if less {
		return -1
	}
	return 1
}

// checkDue writes and deletes at random, and opens the store again now and then: Due lists what the clubs have.
func checkDue(t *testing.T, open Open) {
	s := open(t)
	rapid.Check(t, func(r *rapid.T) {
		for range rapid.IntRange(1, 12).Draw(r, "transactions") {
			club := rapid.SampledFrom([]string{clubA, clubB}).Draw(r, "club")
			must(r, s.Update(context.Background(), club, func(tx store.Tx) error {
				for range rapid.IntRange(1, 4).Draw(r, "writes") {
					key := rapid.SampledFrom([]string{"due/", "due/a", "due/a/b", "due/a-", "due/b/1", "due/b/2", "due", "due0", "duf"}).Draw(r, "key")
					if rapid.Bool().Draw(r, "deletes") {
						if err := tx.Delete(key); err != nil {
							return err
						}
						continue
					}
					if err := tx.Put(key, nil); err != nil {
						return err
					}
				}
				return nil
			}))
			if rapid.IntRange(0, 9).Draw(r, "opens it again") == 0 {
				must(r, s.Close())
				s = open(t)
			}
			from := rapid.SampledFrom([]string{store.DuePrefix, "due/a", "due/a/", "due/b/1"}).Draw(r, "from")
			before := rapid.SampledFrom([]string{dueEnd, "due/a/c", "due/b/2", "due/a"}).Draw(r, "before")
			if got, want := due(r, s, from, before), scanned(r, s, from, before); !slices.Equal(got, want) {
				r.Fatalf("from %q below %q: got %v, want %v", from, before, got, want)
			}
		}
	})
}

// checkDueLarge writes more at once than some engines take in one request.
func checkDueLarge(t *testing.T, open Open) {
	s := open(t)
	const many = 300
	write := func(change func(store.Tx, string) error) {
		t.Helper()
		must(t, update(s, func(tx store.Tx) error {
			for i := range many {
				if err := change(tx, fmt.Sprintf("due/ride/%04d", i)); err != nil {
					return err
				}
			}
			return tx.Put("other", make([]byte, 100_000))
		}))
	}
	write(func(tx store.Tx, key string) error { return tx.Put(key, nil) })
	if got, want := due(t, s, store.DuePrefix, dueEnd), scanned(t, s, store.DuePrefix, dueEnd); len(got) != many || !slices.Equal(got, want) {
		t.Errorf("got %d, want %d", len(got), len(want))
	}
	write(func(tx store.Tx, key string) error { return tx.Delete(key) })
	if got := due(t, s, store.DuePrefix, dueEnd); len(got) > 0 {
		t.Errorf("%d are still there", len(got))
	}
}

// checkDueFails: nothing of a transaction that fails is due.
func checkDueFails(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{Key: "due/a"})
	wrong := errors.New("wrong")
	if err := update(s, func(tx store.Tx) error {
		return errors.Join(tx.Put("due/b", nil), tx.Delete("due/a"), wrong)
	}); !errors.Is(err, wrong) {
		t.Fatal(err)
	}
	if got := due(t, s, store.DuePrefix, dueEnd); !slices.Equal(got, []store.Due{{Club: clubA, Key: "due/a"}}) {
		t.Errorf("got %v", got)
	}
}

func checkDueClosed(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{Key: "due/a"})
	_ = due(t, s, store.DuePrefix, dueEnd)
	must(t, s.Close())
	if got, err := s.Due(context.Background(), store.DuePrefix, dueEnd); !errors.Is(err, store.ErrClosed) {
		t.Errorf("got %v, %v", got, err)
	}
}
