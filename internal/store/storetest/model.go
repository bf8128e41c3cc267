package storetest

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/store"
)

// model is what a store must be like: a map for each club, with sorting.
type model map[string]map[string]string

func (m model) sorted(club string) (entries []entry) {
	for _, key := range slices.Sorted(maps.Keys(m[club])) {
		entries = append(entries, entry{key, m[club][key]})
	}
	return entries
}

func (m model) clubs() (clubs []string) {
	for _, club := range slices.Sorted(maps.Keys(m)) {
		if len(m[club]) > 0 {
			clubs = append(clubs, club)
		}
	}
	return clubs
}

// What the random runs draw from: few keys, so that they meet, some of which begin with others or end with the last byte.
func clubIDs() *rapid.Generator[string] { return rapid.SampledFrom([]string{"a", "b", "a-b"}) }

func someKey(least int) *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		return string(rapid.SliceOfN(rapid.SampledFrom([]byte("\x00/ab\xff")), least, 3).Draw(t, "key"))
	})
}

func someValue() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		return strings.Repeat(rapid.SampledFrom([]string{"v", "w"}).Draw(t, "of"), rapid.SampledFrom([]int{0, 1, 5, 900, 9000}).Draw(t, "bytes"))
	})
}

// run is one random run beside the model.
type run struct {
	store store.Store
	model model
	open  func() store.Store
}

// checkModel runs random transactions, some of which fail, and random reopening beside the model.
func checkModel(t *testing.T, open Open) {
	r := &run{store: open(t), open: func() store.Store { return open(t) }}
	rapid.Check(t, func(rt *rapid.T) {
		r.model = model{}
		empty(rt, r.store)
		rt.Repeat(map[string]func(*rapid.T){
			"update": r.update,
			"view":   r.view,
			"reopen": r.reopen,
			"":       r.check,
		})
	})
}

// empty deletes all that the run before left.
func empty(t rapid.TB, s store.Store) {
	clubs, err := s.Clubs(context.Background())
	must(t, err)
	for _, club := range clubs {
		old := all(t, s, club)
		must(t, s.Update(context.Background(), club, func(tx store.Tx) error {
			for _, e := range old {
				must(t, tx.Delete(e.Key))
			}
			return nil
		}))
	}
}

// update writes at random, in a transaction that ends at random: well, by an error, by a panic, or by its context.
func (r *run) update(t *rapid.T) {
	club := clubIDs().Draw(t, "club")
	ending := rapid.SampledFrom([]string{"well", "well", "well", "error", "panic", "context"}).Draw(t, "ending")
	steps := rapid.SliceOfN(rapid.Custom(drawStep), 0, 12).Draw(t, "steps")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	refusal, after := errors.New("refused"), model{}
	err := caught(func() error {
		return r.store.Update(ctx, club, func(tx store.Tx) error {
			after[club] = map[string]string{}
			maps.Copy(after[club], r.model[club])
			for _, one := range steps {
				one.apply(t, tx, after, club)
			}
			switch ending {
			case "error":
				return refusal
			case "panic":
				panic(refusal)
			case "context":
				cancel()
			}
			return nil
		})
	})
	want := map[string]error{"error": refusal, "panic": refusal, "context": context.Canceled}[ending]
	if !errors.Is(err, want) {
		t.Fatalf("ended by %s: %v, want %v", ending, err, want)
	}
	if ending == "well" {
		r.model[club] = after[club]
	}
}

// caught turns the panic that a run throws on purpose into its error. Other panics go on.
func caught(use func() error) (err error) {
	defer func() {
		if fault := recover(); fault != nil {
			thrown, ours := fault.(error)
			if !ours || thrown.Error() != "refused" {
				panic(fault)
			}
			err = thrown
		}
	}()
	return use()
}

// step is one thing to do to a transaction and to the model; it is drawn before the transaction, which may run it again.
type step struct{ do, key, value, prefix, bound string }

func drawStep(t *rapid.T) (one step) {
	one.do = rapid.SampledFrom([]string{"put", "put", "put", "delete", "get", "scan"}).Draw(t, "do")
	one.key = someKey(1).Draw(t, "key")
	if one.do == "put" {
		one.value = someValue().Draw(t, "value")
	}
	if one.do == "scan" {
		one.prefix, one.bound = someKey(0).Draw(t, "prefix"), someKey(0).Draw(t, "bound")
	}
	return one
}

func (one step) apply(t *rapid.T, tx store.Tx, m model, club string) {
	switch one.do {
	case "put":
		must(t, tx.Put(one.key, []byte(one.value)))
		m[club][one.key] = one.value
	case "delete":
		must(t, tx.Delete(one.key))
		delete(m[club], one.key)
	case "get":
		get(t, tx, m, club, one.key)
	case "scan":
		scan(t, tx, m, club, one.prefix, one.bound)
	}
}

// view reads one club at random.
func (r *run) view(t *rapid.T) {
	club, key := clubIDs().Draw(t, "club"), someKey(1).Draw(t, "key")
	prefix, bound := someKey(0).Draw(t, "prefix"), someKey(0).Draw(t, "bound")
	must(t, r.store.View(context.Background(), club, func(tx store.Tx) error {
		get(t, tx, r.model, club, key)
		scan(t, tx, r.model, club, prefix, bound)
		return nil
	}))
}

func get(t *rapid.T, tx store.Tx, m model, club, key string) {
	if value, there := m[club][key]; there {
		wants(t, tx, key, append([]byte{}, value...))
	} else {
		wants(t, tx, key, nil)
	}
}

func scan(t *rapid.T, tx store.Tx, m model, club, prefix, bound string) {
	var up, down []entry
	must(t, tx.Scan(prefix, bound, into(&up)))
	must(t, tx.ScanDown(prefix, bound, into(&down)))
	compare(t, "Scan", expected(m.sorted(club), prefix, bound, false), up)
	compare(t, "ScanDown", expected(m.sorted(club), prefix, bound, true), down)
}

func (r *run) reopen(t *rapid.T) {
	must(t, r.store.Close())
	r.store = r.open()
}

// check compares the whole store with the whole model.
func (r *run) check(t *rapid.T) {
	clubs, err := r.store.Clubs(context.Background())
	must(t, err)
	if want := r.model.clubs(); !slices.Equal(want, clubs) {
		t.Fatalf("Clubs() = %q, want %q", clubs, want)
	}
	for _, club := range clubs {
		compare(t, club, r.model.sorted(club), all(t, r.store, club))
	}
}
