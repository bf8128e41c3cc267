//go:build etcd

package etcd_test

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// writeTo has the test binary be a server that writes until it is killed: "ADDRESS PREFIX".
var writeTo = flag.String("write-to", "", "for TestServerKilled alone")

// pieces is how many keys each transaction of that server writes: more than go into one request, so that it may be killed between
// the one that makes it count and those that carry it out.
const pieces = 60

// made is how many keys a transaction before it makes, in packs, which it deletes.
const made = 20

// TestServerKilled kills a server in the middle of writing, over and over. The next one finds each transaction whole or not at all,
// all that were acknowledged are there, and goes on: one after it sees the same.
func TestServerKilled(t *testing.T) {
	if *writeTo != "" {
		writeUntilKilled(t)
		return
	}
	t.Parallel()
	address, prefix := etcdtest.Shared(t)
	last := 0
	for round := range 12 {
		last = killedAfter(t, address, prefix, 5+3*round, last)
		s := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix, TxnOps: 16, TxnBytes: 64 << 10})
		found := shows(t, s, "moor")
		counts := map[string]int{}
		for _, number := range found {
			counts[number]++
		}
		there, err := strconv.Atoi(found["piece/0"])
		whole := counts[found["piece/0"]] == pieces && (len(found) == pieces || len(found) == pieces+made && counts[fmt.Sprint(there+1)] == made)
		if err != nil || !whole || there < last {
			t.Fatalf("round %d: keys by transaction: %v, and %d was acknowledged", round, counts, last)
		}
		must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("next", nil) }))
		must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Delete("next") }))
		after := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix})
		if again := shows(t, after, "moor"); !maps.Equal(again, found) {
			t.Fatalf("round %d: after it was carried out there is %v, and was %v", round, again, found)
		}
		must(t, errors.Join(s.Close(), after.Close()))
	}
}

// killedAfter starts a server, kills it once it has acknowledged so many transactions, and gives the number of the last one that
// it did.
func killedAfter(t *testing.T, address, prefix string, transactions, last int) int {
	t.Helper()
	command := exec.Command(os.Args[0], "-test.run", "^TestServerKilled$", "-write-to", address+" "+prefix)
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	must(t, command.Start())
	lines := bufio.NewScanner(out)
	for heard := 0; lines.Scan(); {
		number, is := strings.CutPrefix(lines.Text(), "acknowledged ")
		if !is {
			continue
		}
		if last, err = strconv.Atoi(number); err != nil {
			t.Error(err)
		}
		if heard++; heard == transactions {
			time.AfterFunc(time.Duration(last%7)*time.Millisecond, func() { _ = command.Process.Kill() }) // anywhere in what comes next
		}
	}
	_ = command.Wait()
	return last
}

func writeUntilKilled(t *testing.T) {
	address, prefix, _ := strings.Cut(*writeTo, " ")
	s := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix, TxnOps: 16, TxnBytes: 64 << 10})
	for {
		number := 0
		must(t, s.Update(context.Background(), "moor", func(tx store.Tx) error {
			text, err := tx.Get("piece/0")
			if err != nil {
				return err
			}
			last, _ := strconv.Atoi(string(text))
			number = last + 1
			for i := range made {
				err = errors.Join(err, tx.Put(fmt.Sprint("made/", i), []byte(strconv.Itoa(number))))
			}
			return err
		}))
		must(t, s.Update(context.Background(), "moor", func(tx store.Tx) (err error) {
			for i := range made {
				err = errors.Join(err, tx.Delete(fmt.Sprint("made/", i)))
			}
			for i := range pieces {
				err = errors.Join(err, tx.Put(fmt.Sprint("piece/", i), []byte(strconv.Itoa(number))))
			}
			return err
		}))
		fmt.Println("acknowledged", number)
	}
}
