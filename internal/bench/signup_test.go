package bench_test

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"go.etcd.io/bbolt"
	"google.golang.org/grpc"

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

// fridayRounds is how often 256 clients sign up for fridayRides rides each. The first round is told by itself: the server has just been
// started, its memory has to be found by the system, and the file is small. The ratio is that of the others.
const fridayClients, fridayRides, fridayRounds = 256, 8, 6

// signUpAll signs all clients up for one new ride after another, and gives how many sign-ups there were in a second and what
// each wrote.
func (c *club) signUpAll(model *pb.Ride, title string, wires []*grpc.ClientConn) (perSecond float64, wrote [][]put) {
	c.b.Helper()
	made := c.like(model, title, fridayRides, 0)
	for _, ride := range made { // somebody has looked at the ride before sign-up opened
		if _, err := c.rides.PlanRide(c.as(0), &pb.PlanRideRequest{Name: ride}); err != nil {
			c.b.Fatal(err)
		}
	}
	requests := make([]*[]byte, fridayClients*fridayRides)
	for i := range requests {
		requests[i] = wire(c.b, join(made[i/fridayClients], i%fridayClients))
	}
	kept := &held{}
	c.store.writes.Store(kept)
	spent := atOnce(c.b, fridayClients, len(requests), func(_, i int) error {
		_, err := call(with(context.Background(), token(i%fridayClients)), wires[i%len(wires)], "/gritward.v1.RideService/JoinRide", requests[i])
		return err
	})
	c.store.writes.Store(nil)
	if len(kept.puts) != len(requests) {
		c.b.Fatalf("%d sign-ups wrote %d times", len(requests), len(kept.puts))
	}
	return float64(len(requests)) / spent, kept.puts
}

// reportFriday reports sign-ups a second and those of a limit, by rounds.
func reportFriday(b *testing.B, what string, ours, beside []float64, reach float64) {
	b.Helper()
	cold, limit := ours[0], beside[0]
	ours, beside = ours[1:], beside[1:]
	report(b, row{what: what, ours: fmt.Sprintf("%.0f/s", median(ours)), beside: fmt.Sprintf("%.0f/s", median(beside)),
		ratio: median(ours) / median(beside), reach: reach, more: true, wall: true})
	report(b, row{what: "the same, the first after the start", ours: fmt.Sprintf("%.0f/s", cold), beside: fmt.Sprintf("%.0f/s", limit), ratio: cold / limit, wall: true})
}

// BenchmarkSignups signs up with 256 clients at once, each of them for one ride after another, and then writes the very
// bytes that came of it by a bare group commit of as many callers.
func BenchmarkSignups(b *testing.B) {
	c := newClub(b, fridayClients)
	model := c.ride("Becks", 4)
	wires := connections(b, c.address, 8)
	limit := newGrouped(b, bare(b))
	var ours, beside []float64
	for b.Loop() {
		for range fridayRounds {
			made, wrote := c.signUpAll(model, fmt.Sprintf("r%d", len(ours)), wires)
			ours = append(ours, made)
			beside = append(beside, float64(len(wrote))/atOnce(b, fridayClients, len(wrote), func(_, i int) error { return limit.write(wrote[i]) }))
		}
	}
	reportFriday(b, "durable sign-ups, 256 clients over gRPC, beside a bare group commit of the same bytes", ours, beside, 0.5)
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
