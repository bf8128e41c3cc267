package bench_test

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	pb "gritward/proto/gritward/v1"
)

// bare is a bbolt file alone, with as many bytes of address space reserved as the program does.
func bare(b testing.TB) *bbolt.DB {
	b.Helper()
	db, err := bbolt.Open(filepath.Join(fixtures(b), fmt.Sprintf("bare%d.db", time.Now().UnixNano())), 0o600, &bbolt.Options{InitialMmapSize: 256 << 20})
	if err != nil {
		b.Fatal(err)
	}
	db.AllocSize = 1 << 20
	b.Cleanup(func() { _ = db.Close() })
	return db
}

func putAll(tx *bbolt.Tx, puts []put) error {
	bucket, err := tx.CreateBucketIfNotExists([]byte("club"))
	for i := 0; i < len(puts) && err == nil; i++ {
		err = bucket.Put([]byte(puts[i].key), puts[i].value)
	}
	return err
}

// grouped writes by group commit, and nothing else: one writer takes what waits, commits it at once, and tells those who
// wait for it. It is what the program is measured beside.
type grouped struct {
	db    *bbolt.DB
	queue chan ask
}

type ask struct {
	puts []put
	done chan error
}

func newGrouped(b testing.TB, db *bbolt.DB) *grouped {
	g := &grouped{db: db, queue: make(chan ask, 1024)}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for first := range g.queue {
			waiting := []ask{first}
			for more := true; more; {
				select {
				case next, open := <-g.queue:
					if more = open; open {
						waiting = append(waiting, next)
					}
				default:
					more = false
				}
			}
			err := db.Update(func(tx *bbolt.Tx) (err error) {
				for i := 0; i < len(waiting) && err == nil; i++ {
					err = putAll(tx, waiting[i].puts)
				}
				return err
			})
			for _, one := range waiting {
				one.done <- err
			}
		}
	}()
	b.Cleanup(func() { close(g.queue); <-ended })
	return g
}

func (g *grouped) write(puts []put) error {
	done := make(chan error, 1)
	g.queue <- ask{puts, done}
	return <-done
}

// BenchmarkSignups signs up with 256 clients at once, each of them for one ride after another, and then writes the very
// bytes that came of it by a bare group commit of as many callers.
func BenchmarkSignups(b *testing.B) {
	const clients, rides, rounds = 256, 8, 3
	c := newClub(b, clients)
	model := c.ride("Becks", 4)
	wires := connections(b, c.address, 8)
	limit := newGrouped(b, bare(b))
	var ours, beside []float64
	for b.Loop() {
		for round := range rounds {
			made := c.like(model, fmt.Sprintf("r%d-%d", len(ours), round), rides, 0)
			for _, ride := range made { // somebody has looked at the ride before sign-up opened
				if _, err := c.rides.PlanRide(c.as(0), &pb.PlanRideRequest{Name: ride}); err != nil {
					b.Fatal(err)
				}
			}
			requests := make([]*[]byte, clients*rides)
			for i := range requests {
				requests[i] = wire(b, join(made[i/clients], i%clients))
			}
			wrote := &held{}
			c.store.writes.Store(wrote)
			spent := atOnce(b, clients, len(requests), func(_, i int) error {
				_, err := call(with(context.Background(), token(i%clients)), wires[i%len(wires)], "/gritward.v1.RideService/JoinRide", requests[i])
				return err
			})
			c.store.writes.Store(nil)
			if len(wrote.puts) != len(requests) {
				b.Fatalf("%d sign-ups wrote %d times", len(requests), len(wrote.puts))
			}
			ours = append(ours, float64(len(requests))/spent)
			spent = atOnce(b, clients, len(wrote.puts), func(_, i int) error { return limit.write(wrote.puts[i]) })
			beside = append(beside, float64(len(wrote.puts))/spent)
		}
	}
	report(b, row{what: "durable sign-ups, 256 clients over gRPC, beside a bare group commit of the same bytes",
		ours: fmt.Sprintf("%.0f/s", median(ours)), beside: fmt.Sprintf("%.0f/s", median(beside)),
		ratio: median(ours) / median(beside), reach: 0.5, more: true, wall: true})
}

// BenchmarkSignupIdle signs one member after another up, nobody else about, and writes after each the same bytes by one
// bare update of bbolt.
func BenchmarkSignupIdle(b *testing.B) {
	const members = 400
	c := newClub(b, members)
	model := c.ride("Becks", 4)
	db := bare(b)
	var ours, beside []float64
	for b.Loop() {
		ride := c.like(model, fmt.Sprintf("r%d", len(ours)), 1, 0)[0]
		for i := range members {
			request, wrote := wire(b, join(ride, i)), &held{}
			c.store.writes.Store(wrote)
			var err error
			ours = append(ours, took(func() {
				_, err = call(c.as(i), c.conn, "/gritward.v1.RideService/JoinRide", request)
			}))
			if err != nil {
				b.Fatal(err)
			}
			c.store.writes.Store(nil)
			beside = append(beside, took(func() { err = db.Update(func(tx *bbolt.Tx) error { return putAll(tx, wrote.puts[0]) }) }))
			if err != nil {
				b.Fatal(err)
			}
		}
	}
	report(b, row{what: "one sign-up, nobody else about, beside a bare update of the same bytes",
		ours: ms(median(ours)), beside: ms(median(beside)), ratio: median(ours) / median(beside), reach: 1.5, wall: true})
}

func ms(s float64) string { return fmt.Sprintf("%.3g ms", s*1e3) }
