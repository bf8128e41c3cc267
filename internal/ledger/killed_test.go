package ledger_test

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// kills is how often a process is killed; CI asks for hundreds.
var kills = flag.Int("kills", 25, "how often TestKilled kills a process that writes")

// childEnv has the file that a second process of this test binary writes to, and what its records are called.
const childEnv = "LEDGER_TEST_CHILD"

func TestMain(m *testing.M) {
	path, run, isChild := strings.Cut(os.Getenv(childEnv), "\n")
	if !isChild {
		os.Exit(m.Run())
	}
	if err := signUpForEver(path, run); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

const (
	killedRides   = 3
	killedWriters = 24
)

// signUpForEver signs people up from many goroutines, a part of them in vain, and says of each who it was and which entry of the
// audit log, once that is acknowledged. Now and then the store is rewritten beside it.
func signUpForEver(path, run string) error {
	now := func() time.Time { return time.Date(2026, 12, 13, 8, 0, 0, 0, time.UTC) }
	under, err := bolt.Open(bolt.Options{Path: path, Now: now})
	if err != nil {
		return err
	}
	l := ledger.New(under, now)
	failed := make(chan error)
	for writer := range killedWriters {
		go func() {
			for i := 0; ; i++ {
				member := fmt.Sprintf("m%s-%d-%d", run, writer, i)
				var entry *pb.AuditEntry
				err := l.Update(context.Background(), club, func(tx *ledger.Tx) (err error) {
					if entry, err = signUp(tx, member); err == nil && i%5 == 4 {
						err = errInVain
					}
					return err
				})
				switch {
				case err == nil:
					fmt.Printf("%s %d\n", member, entry.Number) // one write, which outlives the process
				case !errors.Is(err, errInVain):
					failed <- err
				}
			}
		}()
	}
	go func() {
		for {
			if err := under.Scrub(context.Background()); err != nil {
				failed <- err
			}
			for range 2000 {
				runtime.Gosched()
			}
		}
	}()
	return <-failed
}

var errInVain = errors.New("in vain")

func rideOf(member string) string { return fmt.Sprintf("r%d", len(member)%killedRides) }

func requestOf(member string) *ledger.Request {
	return &ledger.Request{Member: member, ID: "request-of-" + member, Method: "JoinRide", Message: &pb.JoinRideRequest{Parent: member}}
}

// signUp writes all that a sign-up writes: the sign-up with its tally, the answer to its request, a change of the ride, and
// an entry of the audit log.
func signUp(tx *ledger.Tx, member string) (*pb.AuditEntry, error) {
	name := names.Signup(club, rideOf(member), member)
	entry := &pb.AuditEntry{Actor: names.Member(club, member), Method: "gritward.v1.RideService/JoinRide", Resource: name, What: "signed up"}
	return entry, errors.Join(
		tx.SaveSignup(&pb.Signup{Name: name, Member: names.Member(club, member), State: pb.Signup_IN, Party: strings.Repeat("p", len(member)*7)}),
		tx.Append(entry),
		tx.Answer(requestOf(member), name),
	)
}

// TestKilled kills processes at random moments of their work: while they open the store, write, commit, answer, or rewrite it.
// Each time all that was acknowledged is there, what was not is there whole or not at all, every page and sum of the file is as it
// must be, and the audit log is unbroken.
func TestKilled(t *testing.T) {
	random := rand.New(rand.NewPCG(uint64(os.Getpid()), uint64(time.Now().UnixNano())))
	var path string
	var acknowledged map[string]int64
	all, unanswered := 0, 0
	for round := range *kills {
		if round%8 == 0 { // a new file, so that a round does not become longer and longer
			path, acknowledged = filepath.Join(t.TempDir(), "club.db"), map[string]int64{}
		}
		before := len(acknowledged)
		killOne(t, random, path, strconv.Itoa(round), acknowledged)
		unanswered += afterKill(t, path, acknowledged)
		all += len(acknowledged) - before
		if t.Failed() {
			return
		}
	}
	t.Logf("%d kills: %d acknowledged, all there; %d more were committed when their answer was cut off", *kills, all, unanswered)
	if all < *kills {
		t.Errorf("%d acknowledged in %d rounds: this test shows nothing", all, *kills)
	}
}

// killOne lets a process write and kills it, after a random number of acknowledgements and then a random while.
func killOne(t *testing.T, random *rand.Rand, path, run string, acknowledged map[string]int64) {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childEnv+"="+path+"\n"+run)
	child.Stderr = os.Stderr
	out, err := child.StdoutPipe()
	if err := errors.Join(err, child.Start()); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	take := func() bool {
		if !lines.Scan() {
			return false
		}
		var member string
		var number int64
		if _, err := fmt.Sscan(lines.Text(), &member, &number); err == nil { // the last line may be cut off
			acknowledged[member] = number
		}
		return true
	}
	for range random.IntN(120) {
		if !take() {
			break
		}
	}
	for range random.IntN(5000) {
		runtime.Gosched()
	}
	var once sync.Once
	kill := func() { once.Do(func() { _ = child.Process.Kill() }) }
	defer kill()
	kill()
	for take() { // what it had said by then
	}
	if err := child.Wait(); err == nil || err.Error() != "signal: killed" {
		t.Fatalf("the process ended by itself: %v", err)
	}
}

// afterKill looks at what a process left behind, and tells how much was committed that nobody had been told of.
func afterKill(t *testing.T, path string, acknowledged map[string]int64) (unanswered int) {
	t.Helper()
	now := func() time.Time { return time.Date(2026, 12, 13, 9, 0, 0, 0, time.UTC) }
	under, err := bolt.Open(bolt.Options{Path: path, Now: now, Suspect: true})
	if errors.Is(err, os.ErrNotExist) || err != nil && strings.Contains(err.Error(), "is empty") && len(acknowledged) == 0 {
		return 0 // killed before it had begun
	}
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := under.Close(); err != nil {
			t.Error(err)
		}
	}()
	if err := under.Verify(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	l := ledger.New(under, now)
	entries := map[string]int64{} // of members
	err = l.View(t.Context(), club, func(tx *ledger.Tx) error {
		head, err := tx.VerifyAudit(nil)
		if err != nil && len(acknowledged) > 0 {
			return err
		}
		err = tx.AuditDown(0, 0, func(entry *pb.AuditEntry) error {
			entries[names.Last(entry.Resource)] = entry.Number
			return nil
		})
		if int64(len(entries)) != head.Number {
			t.Errorf("%d entries for %d people", head.Number, len(entries))
		}
		return errors.Join(err, whole(t, tx, entries))
	})
	if err != nil {
		t.Fatal(err)
	}
	for member, number := range acknowledged {
		if entries[member] != number {
			t.Errorf("%s was acknowledged with entry %d and has %d", member, number, entries[member])
		}
	}
	for member, number := range entries { // from now on it must stay
		if acknowledged[member] == 0 {
			acknowledged[member] = number
			unanswered++
		}
	}
	return unanswered
}

// whole holds that those who have an entry have everything, and nobody else anything.
func whole(t *testing.T, tx *ledger.Tx, entries map[string]int64) error {
	t.Helper()
	signed, changes := 0, int64(0)
	for ride := range killedRides {
		id := fmt.Sprintf("r%d", ride)
		err := tx.Signups(id, func(signup *pb.Signup) error {
			signed++
			if member := names.Last(signup.Name); entries[member] == 0 || len(signup.Party) != len(member)*7 {
				t.Errorf("%s is signed up, by entry %d, with %d bytes", member, entries[member], len(signup.Party))
			}
			return nil
		})
		last, lastErr := tx.LastChange(id)
		if err := errors.Join(err, lastErr); err != nil {
			return err
		}
		changes += last
	}
	if signed != len(entries) || changes != int64(len(entries)) {
		t.Errorf("%d sign-ups and %d changes of rides for %d entries", signed, changes, len(entries))
	}
	for member := range entries {
		if resource, err := tx.Answered(requestOf(member)); err != nil || names.Last(resource) != member {
			t.Errorf("the request of %s was answered with %q, %v", member, resource, err)
		}
	}
	return nil
}
