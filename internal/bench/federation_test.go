//go:build etcd

package bench_test

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/status"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness/readinesstest"
	"gritward/internal/server"
	"gritward/internal/store"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// The clubs of a federation, as its scale is told of: 150,000 members of 2,000 clubs are 75 in each. How many of them ride is
// assumed, no source.
const (
	fedMembers  = 75
	fedRiders   = 30 // of one ride a week
	fedWithdraw = 3
	fedGroups   = 4
)

// engine is a store to measure a federation on.
type engine struct {
	name string
	store.Store
	// used is how many bytes of what it keeps are in use.
	used func() int64
	// busy is how long the processor has worked for it, s.
	busy func() float64
}

// federation is one server of many clubs.
type federation struct {
	b      testing.TB
	engine engine
	store  *counted
	ledger *ledger.Ledger
	conns  []*grpc.ClientConn
	facts  *pb.BikeFacts
	gpx    []byte
	now    atomic.Pointer[time.Time]
	clubs  int
	rides  []string
}

// cost is what something takes of a server, over all clubs.
type cost struct {
	cpu             float64 // s, of the server and its clients
	engine          float64 // s, of the processor for what keeps the store, all its members together
	took            float64 // s, by the clock on the wall
	writes, written float64 // transactions that wrote, and the bytes of their keys and values
	used            float64 // bytes more in use
	calls           float64
}

func (c cost) per(n int) cost {
	k := float64(n)
	return cost{c.cpu / k, c.engine / k, c.took / k, c.writes / k, c.written / k, c.used / k, c.calls / k}
}

func newFederation(b testing.TB, on engine) *federation {
	b.Helper()
	f := &federation{b: b, engine: on, store: &counted{Store: on.Store}, facts: readinesstest.WholeBike(b)}
	f.at(friday)
	f.ledger = ledger.New(f.store, func() time.Time { return *f.now.Load() })
	answering, err := server.New(server.Config{Ledger: f.ledger, Log: slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError})), RollWatch: server.NewRollWatch()})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(answering.Stop)
	f.conns = connections(b, serve(b, answering), 8)
	if f.gpx, err = os.ReadFile("../demo/four-becks.gpx"); err != nil {
		b.Fatal(err)
	}
	return f
}

func (f *federation) at(now time.Time) { f.now.Store(&now) }

func fedClub(c int) string { return fmt.Sprintf("club-%d", c) }

func fedToken(c, i int) string { return fmt.Sprintf("%s.%050d", fedClub(c), i) }

func fedMember(c, i int) string { return names.Member(fedClub(c), fmt.Sprintf("m%d", i)) }

// on calls as a member of a club.
func (f *federation) on(c, i int) (context.Context, *grpc.ClientConn) {
	return with(context.Background(), fedToken(c, i)), f.conns[c%len(f.conns)]
}

// measured runs something for each club from one number to before another, so many at once, and tells what it took.
func (f *federation) measured(from, to, atonce int, each func(c int) (calls int, err error)) cost {
	f.b.Helper()
	wrote := &held{}
	f.store.writes.Store(wrote)
	before, cpuBefore, engineBefore, began := f.engine.used(), busy(f.b), f.engine.busy(), time.Now()
	var calls atomic.Int64
	var next atomic.Int64
	next.Store(int64(from))
	var workers sync.WaitGroup
	var failed atomic.Pointer[error]
	for range atonce {
		workers.Go(func() {
			for c := int(next.Add(1) - 1); c < to && failed.Load() == nil; c = int(next.Add(1) - 1) {
				n, err := each(c)
				if err != nil {
					err = fmt.Errorf("club %d: %w", c, err)
					failed.Store(&err)
				}
				calls.Add(int64(n))
			}
		})
	}
	workers.Wait()
	if err := failed.Load(); err != nil {
		f.b.Fatalf("%v %v", *err, status.Convert(errors.Unwrap(*err)).Details())
	}
	f.store.writes.Store(nil)
	total := cost{cpu: busy(f.b) - cpuBefore, engine: f.engine.busy() - engineBefore, took: time.Since(began).Seconds(), writes: float64(len(wrote.puts)),
		used: float64(f.engine.used() - before), calls: float64(calls.Load())}
	for _, puts := range wrote.puts {
		for _, one := range puts {
			total.written += float64(len(one.key) + len(one.value))
		}
	}
	return total
}

// found founds a club with its members, their bikes and its policy.
func (f *federation) found(c int) (calls int, err error) {
	club := fedClub(c)
	if _, err := server.Found(context.Background(), f.ledger, club, &pb.Club{
		Title: club, Zone: "Europe/London", LatitudeDeg: 54.085, LongitudeDeg: -2.285}, "Sec"); err != nil {
		return 0, err
	}
	err = f.ledger.Update(context.Background(), club, func(tx *ledger.Tx) error {
		for i := range fedMembers {
			if err := f.add(tx, c, i); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	ctx, conn := f.on(c, 0)
	_, err = pb.NewPolicyServiceClient(conn).AdoptPolicy(ctx, &pb.AdoptPolicyRequest{Parent: names.Club(club), File: "winter.yaml", Content: policyfile.Winter})
	return 1, err
}

// add writes one member with a device and a bike.
func (f *federation) add(tx *ledger.Tx, c, i int) error {
	sum := sha256.Sum256([]byte(fedToken(c, i)))
	one := person(i)
	one.Name = fedMember(c, i)
	bike := &pb.Bike{Name: one.Name + "/bikes/bike-1", CreatedAt: tx.Stamp(), Declaration: &pb.Declaration{Name: one.Name + "/bikes/bike-1/declarations/1",
		Revision: 1, CertifiedAt: tx.Stamp(), CertifiedBy: one.Name, Facts: bikeLike(f.facts, i)}}
	device := &pb.DeviceRecord{TokenSha256: sum[:], Device: &pb.Device{
		Name: names.Device(fedClub(c), fmt.Sprintf("m%d", i), "d1"), Title: "phone", CreatedAt: tx.Stamp(), LastUsedOn: "2026-12-11"}}
	for _, save := range []func() error{
		func() error { return tx.SaveMember(one) }, func() error { return tx.SaveDevice(device) },
		func() error { return tx.AddDeclaration(bike.Declaration) }, func() error { return tx.SaveBike(bike) },
	} {
		if err := save(); err != nil {
			return err
		}
	}
	return nil
}

// fridayOf is a club's Friday: the leader writes the ride out, riders look at it and sign up, some withdraw.
func (f *federation) fridayOf(c int) (calls int, err error) {
	ctx, conn := f.on(c, 0)
	rides := pb.NewRideServiceClient(conn)
	made, err := rides.CreateRide(ctx, &pb.CreateRideRequest{Parent: names.Club(fedClub(c)), Ride: sunday("Becks", fedGroups), RouteGpx: f.gpx})
	if err != nil {
		return calls, err
	}
	f.rides[c] = made.Name
	if _, err = rides.PlanRide(ctx, &pb.PlanRideRequest{Name: made.Name}); err != nil {
		return calls, err
	}
	calls += 2
	for i := range fedRiders {
		ctx, conn := f.on(c, i)
		rides := pb.NewRideServiceClient(conn)
		if _, err = rides.GetRide(ctx, &pb.GetRideRequest{Name: made.Name}); err != nil {
			return calls, err
		}
		member := fedMember(c, i)
		signup, err := rides.JoinRide(ctx, &pb.JoinRideRequest{Parent: made.Name, RequestId: fmt.Sprintf("join-%d-%d", c, i),
			Signup: &pb.Signup{Member: member, Bike: member + "/bikes/bike-1"}})
		if err != nil {
			return calls, err
		}
		calls += 2
		if i >= fedRiders-fedWithdraw {
			if _, err = rides.WithdrawSignup(ctx, &pb.WithdrawSignupRequest{Name: signup.Name}); err != nil {
				return calls, err
			}
			calls++
		}
	}
	return calls, nil
}

// morningOf is a club's Sunday until its ride sets off: the leader places and publishes, riders read the roster and sign on.
func (f *federation) morningOf(c int) (calls int, err error) {
	ctx, conn := f.on(c, 0)
	rides, ride := pb.NewRideServiceClient(conn), f.rides[c]
	if _, err = rides.PlaceRide(ctx, &pb.PlaceRideRequest{Name: ride}); err != nil {
		return calls, err
	}
	roster, err := rides.PublishRoster(ctx, &pb.PublishRosterRequest{Parent: ride})
	if err != nil {
		return calls, err
	}
	calls += 2
	for i := range fedRiders - fedWithdraw {
		ctx, conn := f.on(c, i)
		if _, err = pb.NewRideServiceClient(conn).GetRoster(ctx, &pb.GetRosterRequest{Name: roster.Name}); err != nil {
			return calls, err
		}
		calls++
	}
	marked, err := f.mark(c, pb.Mark_SIGNED_ON)
	return calls + marked, err
}

// eveningOf is its end: all are marked home, one by one, and the ride is closed.
func (f *federation) eveningOf(c int) (calls int, err error) {
	if calls, err = f.mark(c, pb.Mark_HOME); err != nil {
		return calls, err
	}
	ctx, conn := f.on(c, 0)
	_, err = pb.NewRollCallServiceClient(conn).CloseRide(ctx, &pb.CloseRideRequest{Name: f.rides[c], Reason: "all are home"})
	return calls + 1, err
}

// mark marks all riders of a club's ride, one after another.
func (f *federation) mark(c int, what pb.Mark_What) (calls int, err error) {
	ctx, conn := f.on(c, 0)
	for i := range fedRiders - fedWithdraw {
		if _, err = pb.NewRollCallServiceClient(conn).RecordMarks(ctx, &pb.RecordMarksRequest{Parent: f.rides[c], Marks: []*pb.Mark{{
			Name: fmt.Sprintf("%s/marks/%d-%d", f.rides[c], what, i), Member: fedMember(c, i), What: what}}}); err != nil {
			return calls, err
		}
		calls++
	}
	return calls, nil
}

// weekend is what founding clubs, their Friday and both parts of their Sunday cost, and how many bytes of keys and values one
// of them then has: once it is founded, and more after the weekend.
type weekend struct {
	founded, friday, morning, evening cost
	liveFounded, liveMore             float64
}

// live is how many bytes of keys and values a club has.
func (f *federation) live(c int) (bytes float64) {
	f.b.Helper()
	err := f.engine.View(context.Background(), fedClub(c), func(tx store.Tx) error {
		return tx.Scan("", "", func(key string, value []byte) (bool, error) {
			bytes += float64(len(key) + len(value))
			return true, nil
		})
	})
	if err != nil {
		f.b.Fatal(err)
	}
	return bytes
}

// play founds more clubs and plays their Friday and their Sunday, so many clubs at once.
func (f *federation) play(more, atonce int) (w weekend) {
	from, to := f.clubs, f.clubs+more
	f.rides = append(f.rides, make([]string, more)...)
	f.clubs = to
	f.at(friday)
	w.founded = f.measured(from, to, atonce, f.found)
	w.liveFounded = f.live(from)
	w.friday = f.measured(from, to, atonce, f.fridayOf)
	f.at(time.Date(2026, 12, 13, 10, 0, 0, 0, time.UTC))
	w.morning = f.measured(from, to, atonce, f.morningOf)
	f.at(time.Date(2026, 12, 13, 15, 0, 0, 0, time.UTC))
	w.evening = f.measured(from, to, atonce, f.eveningOf)
	w.liveMore = f.live(from) - w.liveFounded
	return w
}
