package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/store"
)

func groupChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"neighbours do no harm":                 checkNeighbours,
		"neighbours see each other in order":    checkNeighboursSee,
		"what was taken back is not to be seen": checkTakenBack,
	}
}

// checkNeighbours runs, at once, transactions that end in every way. Each appends to a log, spoils what the others rest on
// unless it ends well, and writes some keys of its own. The log then holds those that were acknowledged, in one order in
// which each saw all before it; of the others nothing is left.
func checkNeighbours(t *testing.T, open Open) {
	s := open(t)
	rapid.Check(t, func(rt *rapid.T) {
		empty(rt, s)
		many := rapid.SliceOfN(rapid.Custom(drawNeighbour), 1, 24).Draw(rt, "neighbours")
		hold, held := make(chan struct{}), make(chan struct{})
		var group sync.WaitGroup
		group.Go(func() { // so that the others come together
			once := sync.OnceFunc(func() { close(held) })
			_ = s.Update(context.Background(), clubA, func(store.Tx) error { once(); <-hold; return nil })
		})
		<-held
		var begun sync.WaitGroup
		for id, n := range many {
			begun.Add(1)
			group.Go(func() { begun.Done(); n.err = n.run(s, id) })
		}
		begun.Wait()
		for _, n := range many {
			if n.ending == "gone" { // while it waits, or while it runs
				n.cancel()
			}
		}
		close(hold)
		group.Wait()
		for _, club := range []string{clubA, clubB} {
			checkLog(rt, club, many, all(rt, s, club))
		}
	})
}

// neighbour is one transaction of many.
type neighbour struct {
	club, ending string
	keys         []string
	ctx          context.Context
	cancel       context.CancelFunc
	// wrote tells that it ran to its end, saw is the number it got then.
	wrote bool
	saw   int
	err   error
}

func drawNeighbour(t *rapid.T) *neighbour {
	n := &neighbour{
		club:   rapid.SampledFrom([]string{clubA, clubB}).Draw(t, "club"),
		ending: rapid.SampledFrom([]string{"well", "well", "well", "error", "panic", "context", "gone", "nothing"}).Draw(t, "ending"),
		keys:   rapid.SliceOfNDistinct(rapid.StringMatching(`[a-c]{1,2}`), 0, 4, rapid.ID).Draw(t, "keys"),
	}
	n.ctx, n.cancel = context.WithCancel(context.Background())
	return n
}

var errRefused = errors.New("refused")

func (n *neighbour) run(s store.Store, id int) (err error) {
	defer n.cancel()
	return caught(func() error {
		return s.Update(n.ctx, n.club, func(tx store.Tx) error {
			if n.ending == "nothing" {
				_, err := tx.Get("count")
				return err
			}
			if n.ending != "well" && n.ending != "gone" {
				if err := n.spoil(tx); err != nil {
					return err
				}
			}
			if err := n.append(tx, id); err != nil {
				return err
			}
			switch n.ending {
			case "error":
				return errRefused
			case "panic":
				panic(errRefused)
			case "context":
				n.cancel()
			}
			n.wrote = true
			return nil
		})
	})
}

// spoil deletes the log and writes over the rest, as nobody may find it.
func (n *neighbour) spoil(tx store.Tx) error {
	var keys []string
	err := tx.Scan("", "", func(key string, _ []byte) (bool, error) { keys = append(keys, key); return true, nil })
	for i, key := range keys {
		if i%2 == 0 {
			err = errors.Join(err, tx.Delete(key))
		} else {
			err = errors.Join(err, tx.Put(key, []byte("0")))
		}
	}
	return errors.Join(err, tx.Put("count", []byte("0")), tx.Put("spoilt", []byte("0")))
}

// append writes the next entry of the log, which is found in two ways, and the keys of its own.
func (n *neighbour) append(tx store.Tx, id int) (err error) {
	if n.saw, err = increment(tx, "count"); err != nil {
		return err
	}
	last := 0
	err = tx.ScanDown("log/", "", func(key string, _ []byte) (bool, error) {
		last, _ = strconv.Atoi(key[len("log/"):])
		return false, nil
	})
	if n.ending == "well" && last+1 != n.saw {
		return fmt.Errorf("the log ends at %d, and the count is %d", last, n.saw)
	}
	err = errors.Join(err, tx.Put(fmt.Sprintf("log/%04d", n.saw), []byte(strconv.Itoa(id))))
	for _, key := range n.keys {
		err = errors.Join(err, tx.Put(fmt.Sprintf("own/%s/%d", key, id), []byte(key)))
	}
	return err
}

// checkLog holds what is left of a club against what was acknowledged.
func checkLog(t *rapid.T, club string, many []*neighbour, left []entry) {
	var want []entry
	count := 0
	for id, n := range many {
		expected := map[string]error{"error": errRefused, "panic": errRefused, "context": context.Canceled}[n.ending]
		if n.ending == "gone" && n.err != nil {
			expected = context.Canceled // it came too late
		}
		if !errors.Is(n.err, expected) {
			t.Fatalf("neighbour %d (%s): %v, want %v", id, n.ending, n.err, expected)
		}
		if n.club != club || n.err != nil || n.ending == "nothing" {
			continue
		}
		if !n.wrote {
			t.Fatalf("neighbour %d was acknowledged and did not run", id)
		}
		count++
		want = append(want, entry{fmt.Sprintf("log/%04d", n.saw), strconv.Itoa(id)})
		for _, key := range n.keys {
			want = append(want, entry{fmt.Sprintf("own/%s/%d", key, id), key})
		}
	}
	if count > 0 {
		want = append(want, entry{"count", strconv.Itoa(count)})
	}
	slices.SortFunc(want, func(a, b entry) int { return slices.Compare([]byte(a.Key), []byte(b.Key)) })
	compare(t, club, want, left)
}

// checkNeighboursSee has many writers at once prolong a chain in which each link names the one before.
func checkNeighboursSee(t *testing.T, open Open) {
	const writers, rounds = 32, 8
	s := open(t)
	var group sync.WaitGroup
	for writer := range writers {
		group.Go(func() {
			for round := range rounds {
				if err := update(s, func(tx store.Tx) error { return link(tx, fmt.Sprint(writer, ".", round)) }); err != nil {
					t.Error(err)
				}
			}
		})
	}
	group.Wait()
	chain := all(t, s, clubA)
	if len(chain) != writers*rounds {
		t.Fatalf("%d links, want %d", len(chain), writers*rounds)
	}
	for i, one := range chain[1:] {
		if want := chain[i].Key; one.Value[:len(want)] != want {
			t.Fatalf("%s follows %q, want %s", one.Key, one.Value, want)
		}
	}
}

// link adds a link that names the last one.
func link(tx store.Tx, what string) error {
	last, number := "", 0
	err := tx.ScanDown("", "", func(key string, _ []byte) (bool, error) {
		last = key
		_, err := fmt.Sscanf(key, "link/%d", &number)
		return false, err
	})
	return errors.Join(err, tx.Put(fmt.Sprintf("link/%06d", number+1), []byte(last+" "+what)))
}

// checkTakenBack looks, in the transaction after one that failed, at every key from both sides.
func checkTakenBack(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	hold, held := make(chan struct{}), make(chan struct{})
	var group sync.WaitGroup
	group.Go(func() {
		once := sync.OnceFunc(func() { close(held) })
		must(t, update(s, func(tx store.Tx) error { once(); <-hold; return tx.Put("c", []byte("3")) }))
	})
	<-held
	for range 8 {
		group.Go(func() {
			err := update(s, func(tx store.Tx) error { return errors.Join(spoil(tx), tx.Delete("c"), errRefused) })
			if !errors.Is(err, errRefused) {
				t.Error(err)
			}
		})
		group.Go(func() {
			var up, down []entry
			err := update(s, func(tx store.Tx) error {
				up, down = nil, nil
				return errors.Join(tx.Scan("", "", into(&up)), tx.ScanDown("", "", into(&down)))
			})
			slices.Reverse(down)
			if err != nil || !slices.Equal(up, down) || !slices.Equal(up, []entry{{"a", "1"}, {"b", "2"}, {"c", "3"}}) {
				t.Errorf("up %v, down %v, %v", up, down, err)
			}
		})
	}
	close(hold)
	group.Wait()
}
