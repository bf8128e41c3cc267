//go:build etcd

package daemon_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"google.golang.org/protobuf/encoding/protojson"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// watcher is the client's command that tells the changes of a ride, as a process.
type watcher struct {
	command *exec.Cmd
	log     safeLog
	changes chan *pb.RideChange
}

// watch signs a device in that knows both servers, and watches the ride with it from the first change on.
func (r *replicas) watch(name, servers string) *watcher {
	r.t.Helper()
	env := append(os.Environ(), "HOME="+r.t.TempDir(), "XDG_CONFIG_HOME="+r.t.TempDir())
	accept := exec.Command("gritward", "accept", r.invite(name, pb.Role_MEMBER, pb.Role_LEADER), "--server", servers)
	accept.Env = env
	if said, err := accept.CombinedOutput(); err != nil {
		r.t.Fatalf("%v: %s", err, said)
	}
	w := &watcher{command: exec.Command("gritward", "ride", "watch", names.Last(r.ride), "--after", "0", "--json"), changes: make(chan *pb.RideChange, 100_000)}
	w.command.Env, w.command.Stderr = env, &w.log
	out, err := w.command.StdoutPipe()
	if err != nil {
		r.t.Fatal(err)
	}
	if err := w.command.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() { _ = w.command.Process.Kill() })
	go func() {
		defer close(w.changes)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			change := &pb.RideChange{}
			if err := protojson.Unmarshal(lines.Bytes(), change); err != nil {
				r.t.Errorf("%s: %v", lines.Text(), err)
				return
			}
			w.changes <- change
		}
	}()
	return w
}

// upTo takes the changes up to a number, and holds them to be all there, once and in their order.
func (w *watcher) upTo(t *testing.T, number, last int64) (all []*pb.RideChange) {
	t.Helper()
	for end := time.After(time.Minute); last < number; {
		select {
		case change, more := <-w.changes:
			if !more {
				t.Fatalf("the watch ended at change %d of %d: %s", last, number, &w.log)
			}
			if change.Number != last+1 {
				t.Fatalf("change %d follows change %d", change.Number, last)
			}
			last = change.Number
			all = append(all, change)
		case <-end:
			t.Fatalf("the watch is at change %d of %d: %s", last, number, &w.log)
		}
	}
	return all
}

// TestWatchGoesOn watches a ride through either of two servers while others sign up and mark, and kills first the one and then the
// other. Both watches tell every change once, in order, and what was acknowledged is all that they tell.
func TestWatchGoesOn(t *testing.T) {
	r := newReplicas(t, 4)
	for i := range r.members {
		if err := r.join(r.dial(0, 1), i, "", fmt.Sprint("in-", i)); err != nil {
			t.Fatal(err)
		}
	}
	began := r.lastChange()
	watchers := []*watcher{r.watch("Jory Tarn", r.at[0]+","+r.at[1]), r.watch("Una Fold", r.at[1]+","+r.at[0])}
	for _, w := range watchers {
		w.upTo(t, began, 0) // both have begun
	}
	within, stop := context.WithCancel(context.Background())
	var count atomic.Int64
	joined, marked := make([]int, len(r.members)), 0
	var mu sync.Mutex
	var writers sync.WaitGroup
	for i := range r.members {
		writers.Go(func() {
			conn := r.dial(1-i%2, i%2)
			for n := 0; within.Err() == nil; n++ {
				if err := r.join(conn, i, []string{"brisk", "easy"}[n%2], fmt.Sprintf("join-%d-%d", i, n)); err != nil {
					t.Errorf("join: %v", err)
					return
				}
				ctx, cancel := context.WithTimeout(r.secretary, time.Minute)
				_, err := pb.NewRollCallServiceClient(conn).RecordMarks(ctx, &pb.RecordMarksRequest{Parent: r.ride,
					Marks: []*pb.Mark{{Name: fmt.Sprintf("%s/marks/m-%d-%d", r.ride, i, n), Member: r.members[i], What: pb.Mark_SIGNED_ON}}})
				cancel()
				if err != nil {
					t.Errorf("mark: %v", err)
					return
				}
				mu.Lock()
				joined[i]++
				marked++
				mu.Unlock()
				count.Add(1)
			}
		})
	}
	more := func() {
		for want := count.Load() + 40; count.Load() < want && !t.Failed(); {
			time.Sleep(time.Millisecond)
		}
	}
	more()
	for i := range r.servers {
		r.kill(i)
		more()
		r.start(i)
		more()
	}
	stop()
	writers.Wait()
	last := r.lastChange()
	for _, w := range watchers {
		signups, marks := map[string]int{}, 0
		for _, change := range w.upTo(t, last, began) {
			switch change.News {
			case pb.RideNews_SIGNUPS_CHANGED:
				signups[names.Part(change.Record, "signups")]++
			case pb.RideNews_RIDERS_MARKED:
				marks++
			default:
				t.Errorf("nobody did that: %v", change)
			}
		}
		for i, member := range r.members {
			if signups[names.Last(member)] != joined[i] {
				t.Errorf("%s: %d sign-ups told, %d acknowledged", member, signups[names.Last(member)], joined[i])
			}
		}
		if marks != marked {
			t.Errorf("%d marks told, %d acknowledged", marks, marked)
		}
		if err := w.command.Process.Signal(syscall.SIGINT); err != nil {
			t.Error(err)
		}
		for change := range w.changes {
			t.Errorf("after the end: %v", change)
		}
	}
	t.Logf("%d changes, %d of them marks", last-began, marked)
}

// lastChange is the number of the ride's last change.
func (r *replicas) lastChange() (number int64) {
	r.t.Helper()
	if err := r.ledger.View(r.t.Context(), "fenwick", func(tx *ledger.Tx) (err error) {
		number, err = tx.LastChange(names.Last(r.ride))
		return err
	}); err != nil {
		r.t.Fatal(err)
	}
	return number
}
