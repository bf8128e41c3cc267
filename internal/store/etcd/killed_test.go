//go:build etcd

package etcd_test

import (
	"bufio"
	"context"
	"flag"
	"fmt"
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

// TestServerKilled kills a server in the middle of writing, over and over. The next one finds each transaction whole or not at all,
// all that were acknowledged are there, and goes on.
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
		counts := map[string]int{}
		must(t, s.View(t.Context(), "moor", func(tx store.Tx) error {
			return tx.Scan("piece/", "", func(_ string, number []byte) (bool, error) { counts[string(number)]++; return true, nil })
		}))
		if len(counts) != 1 {
			t.Fatalf("round %d: pieces of several transactions: %v", round, counts)
		}
		for number, count := range counts {
			there, err := strconv.Atoi(number)
			if err != nil || count != pieces || there < last {
				t.Fatalf("round %d: %d pieces of %s, and %d was acknowledged", round, count, number, last)
			}
		}
		must(t, s.Close())
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
			for i := range pieces {
				if err := tx.Put(fmt.Sprint("piece/", i), []byte(strconv.Itoa(number))); err != nil {
					return err
				}
			}
			return nil
		}))
		fmt.Println("acknowledged", number)
	}
}
