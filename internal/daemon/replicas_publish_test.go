//go:build etcd

package daemon_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// TestPublishKilled kills the server that publishes an issue at a random moment of it, over and over, by turns the one and the other;
// the client sends it again by itself to the one that lives. Each time there is one issue more, each rider has one letter about it,
// and the audit log tells of it once and holds together. Requests to etcd are so small that what is published does not fit into one.
func TestPublishKilled(t *testing.T) {
	const kills = 8
	r := newReplicas(t, 8, "--etcd-txn-ops", "16", "--smtp-server", "127.0.0.1:1", "--smtp-security", "none", "--smtp-from", "club@rides.example")
	for i := range r.members {
		if err := r.join(r.dial(0, 1), i, "", fmt.Sprint("in-", i)); err != nil {
			t.Fatal(err)
		}
	}
	draw := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 0))
	conn := r.dial(0, 1)
	issues, within, took := 0, 0, time.Duration(0)
	for round := 0; within < kills; round++ {
		if round == 20*kills {
			t.Fatalf("of %d publications %d only were killed in their middle", round, within)
		}
		if err := r.join(conn, round%8, []string{"brisk", "easy"}[round/8%2], fmt.Sprint("round-", round)); err != nil {
			t.Fatal(err)
		}
		serving := round % 2 // the other one was killed in the round before, and whoever was connected to it is here now
		killed := make(chan time.Time, 1)
		kill := func() { at := time.Now(); r.kill(serving); killed <- at }
		if took > 0 {
			time.AfterFunc(time.Duration(draw.Int64N(int64(took)+1)), kill)
		}
		began := time.Now()
		ctx, cancel := context.WithTimeout(r.secretary, time.Minute)
		issue, err := pb.NewRideServiceClient(conn).PublishRoster(ctx, &pb.PublishRosterRequest{Parent: r.ride, RequestId: fmt.Sprint("publish-", round)})
		cancel()
		answered := time.Now()
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if took == 0 {
			took = answered.Sub(began)
			kill()
		}
		if at := <-killed; at.Before(answered) {
			within++
		}
		if issues++; int(issue.Number) != issues {
			t.Fatalf("round %d: issue %d, want %d", round, issue.Number, issues)
		}
		r.published(issues)
		r.start(serving)
	}
	t.Logf("%d issues, of which %d were killed while they were published; one takes %s", issues, within, took.Round(time.Millisecond))
}

// published holds what is in etcd against so many issues.
func (r *replicas) published(issues int) {
	r.t.Helper()
	there, letters, told := map[int32]int{}, map[string]int{}, map[string]int{}
	if err := r.ledger.View(r.t.Context(), "fenwick", func(tx *ledger.Tx) error {
		ride := names.Last(r.ride)
		if err := tx.Rosters(ride, func(issue *pb.Roster) error { there[issue.Number]++; return nil }); err != nil {
			return err
		}
		if err := tx.Letters(ride, func(letter *pb.Letter) error { letters[fmt.Sprint(letter.Issue, " ", letter.Member)]++; return nil }); err != nil {
			return err
		}
		if err := tx.AuditDown(0, 0, func(entry *pb.AuditEntry) error {
			if entry.Method == "gritward.v1.RideService/PublishRoster" {
				told[entry.Resource]++
			}
			return nil
		}); err != nil {
			return err
		}
		if _, err := tx.VerifyAudit(nil); err != nil {
			return err
		}
		return tx.Verify(func(found ledger.Finding) { r.t.Errorf("%s: %s", found.Key, found.What) }, func() {})
	}); err != nil {
		r.t.Fatal(err)
	}
	if len(there) != issues || len(letters) != issues*len(r.members) || len(told) != issues {
		r.t.Fatalf("%d issues, %d letters and %d entries, want %d, %d and %d", len(there), len(letters), len(told), issues, issues*len(r.members), issues)
	}
	for number := range issues {
		if told[fmt.Sprint(r.ride, "/rosters/", number+1)] != 1 {
			r.t.Errorf("issue %d has %d entries", number+1, told[fmt.Sprint(r.ride, "/rosters/", number+1)])
		}
	}
	for what, n := range letters {
		if n != 1 {
			r.t.Errorf("%d letters of issue and member %s", n, what)
		}
	}
}
