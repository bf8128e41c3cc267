//go:build etcd

package bench_test

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"gritward/internal/dial"
	"gritward/internal/store/etcd/etcdtest"
	pb "gritward/proto/gritward/v1"
)

// acks are when a client's calls were acknowledged.
type acks struct {
	mu sync.Mutex
	at []time.Time
}

func (a *acks) add() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.at = append(a.at, time.Now())
}

func (a *acks) count() int {
	a.mu.Lock()
	defer a.mu.Unlock()
	return len(a.at)
}

// gaps are the longest times from one to the next, s: of those that ended before a moment, and of the others.
func (a *acks) gaps(moment time.Time) (before, after float64) {
	a.mu.Lock()
	defer a.mu.Unlock()
	for i := 1; i < len(a.at); i++ {
		gap := a.at[i].Sub(a.at[i-1]).Seconds()
		if a.at[i].Before(moment) {
			before = max(before, gap)
		} else {
			after = max(after, gap)
		}
	}
	return before, after
}

// calling has a client of its own call until the context ends; no call may fail.
func calling(b *testing.B, ctx context.Context, servers []string, a *acks, do func(conn *grpc.ClientConn, n int) error) {
	target, options := dial.To(servers)
	conn, err := grpc.NewClient(target, append(options, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
	if err != nil {
		b.Error(err)
		return
	}
	defer func() { _ = conn.Close() }()
	for n := 0; ctx.Err() == nil; n++ {
		if err := do(conn, n); err != nil {
			b.Errorf("call %d: %v", n, err)
			return
		}
		a.add()
	}
}

// replica starts a server over the etcd of a cluster, as a process.
func replica(b *testing.B, program string, cluster *etcdtest.Cluster, prefix, data string) *process {
	b.Helper()
	p, _ := started(b, program, func(address string) []string {
		return []string{"serve", "--data", data, "--listen", address, "--log-level", "error", "--etcd-endpoints", cluster.Addresses()[0], "--etcd-prefix", prefix,
			"--device-calls-min", "100000", "--address-calls-min", "100000"}
	}, "/gritward.v1.ClubService/WhoAmI", wire(b, &pb.WhoAmIRequest{}), token(0))
	b.Cleanup(p.end)
	return p
}

// BenchmarkEtcdReplicaKilled has clients sign up and mark through two servers over one etcd, each client as gritward connects,
// kills the server that they are connected to, and tells the longest time that any of them had to wait for its next acknowledgement.
func BenchmarkEtcdReplicaKilled(b *testing.B) {
	const rounds, each, members, enough = 3, 8, 100, 10
	cluster := etcdtest.NewCluster(b, 1)
	now := time.Now() // the processes have the clock of the machine
	c := newClubIn(b, members, etcdStore(b, cluster, "replicas/"), now)
	next := sunday("Becks", 4)
	next.StartLocal = now.AddDate(0, 0, 3).Format("2006-01-02T15:04")
	model := c.create(next)
	program := built(b, "gritward/cmd/gritwardd")
	var before, after []float64
	for b.Loop() {
		for round := range rounds {
			tag := fmt.Sprintf("r%d-%d", len(after), round)
			open, out := c.like(model, tag, each, 0), c.like(model, "out-"+tag, each, -4)
			data := b.TempDir()
			first := replica(b, program, cluster, "replicas/", filepath.Join(data, "a", "club.db"))
			second := replica(b, program, cluster, "replicas/", filepath.Join(data, "b", "club.db"))
			servers := []string{first.address, second.address}
			ctx, stop := context.WithCancel(b.Context())
			all := make([]*acks, 2*each)
			var clients sync.WaitGroup
			for i := range all {
				all[i] = &acks{}
				clients.Go(func() {
					calling(b, ctx, servers, all[i], func(conn *grpc.ClientConn, n int) error {
						within, done := context.WithTimeout(c.as(0), time.Minute)
						defer done()
						if i < each {
							_, err := pb.NewRideServiceClient(conn).JoinRide(within, join(open[i], n%members))
							return err
						}
						_, err := pb.NewRollCallServiceClient(conn).RecordMarks(within, &pb.RecordMarksRequest{Parent: out[i-each], Marks: []*pb.Mark{{
							Name: fmt.Sprintf("%s/marks/m%d", out[i-each], n), Member: memberName(n % members), What: pb.Mark_IN_GROUP}}})
						return err
					})
				})
			}
			until := func(n int) {
				for slices.ContainsFunc(all, func(a *acks) bool { return a.count() < n }) && !b.Failed() {
					time.Sleep(time.Millisecond)
				}
			}
			until(enough)
			killed := time.Now()
			first.end()
			var had int
			for _, a := range all {
				had = max(had, a.count())
			}
			until(had + enough)
			stop()
			clients.Wait()
			var longestBefore, longestAfter float64
			for _, a := range all {
				was, is := a.gaps(killed)
				longestBefore, longestAfter = max(longestBefore, was), max(longestAfter, is)
			}
			before, after = append(before, longestBefore), append(after, longestAfter)
			second.end()
		}
	}
	report(b, row{what: fmt.Sprintf("a server killed under %d clients that sign up and mark: the longest that one waits, of three", 2*each),
		ours: fmt.Sprintf("%.2g s", longest(after)), beside: "2 s", ratio: longest(after) / 2, reach: 1, wall: true})
	report(b, row{what: "the same, beside the longest wait before the kill", ours: fmt.Sprintf("%.2g s", longest(after)),
		beside: fmt.Sprintf("%.2g s", longest(before)), ratio: longest(after) / longest(before), wall: true})
}
