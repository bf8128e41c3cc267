//go:build unix

package server_test

import (
	"fmt"
	"runtime"
	"syscall"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// BenchmarkPreview previews a stricter policy over so many bikes and 2,000 riders on 20 rides to come, over the wire.
// With 10,000 bikes the limit is one second on one core: cpu-s is the time that the processor spent on one, collecting
// garbage included, which does not depend on who else is busy on the machine. live-MB is the most that was alive on the heap
// at once beyond what was before: it must not grow with the number of bikes.
func BenchmarkPreview(b *testing.B) {
	for _, bikes := range []int{10_000, 40_000} {
		b.Run(fmt.Sprint(bikes), func(b *testing.B) {
			w := newWorldFor(b)
			people(w)
			members(b, w, bikes/2)
			preview := func() {
				got, err := w.policies.PreviewPolicy(w.as("sec"), &pb.PreviewPolicyRequest{
					Parent: club, File: "strict.yaml", Content: stricter(b), Most: 100}, grpc.MaxCallRecvMsgSize(32<<20))
				if err != nil || int(got.BikesSeen) < bikes || got.RidersSeen != 4000 || got.BikesChanged == 0 {
					b.Fatal(got.GetBikesSeen(), got.GetRidersSeen(), told(err))
				}
			}
			live := mostAlive(preview)
			b.ReportAllocs()
			b.ResetTimer()
			before := busy(b)
			for b.Loop() {
				preview()
			}
			b.ReportMetric((busy(b)-before)/float64(b.N), "cpu-s")
			b.ReportMetric(live, "live-MB")
		})
	}
}

// members puts so many members with two bikes each into the club; the first 2,000 sign up for one of 20 rides.
func members(b *testing.B, w *world, n int) {
	b.Helper()
	const rides, riders, block = 20, 2000, 500
	var names []string
	for i := range rides {
		ride := sunday()
		ride.Title = fmt.Sprintf("Ride %d", i)
		names = append(names, w.ride("lea", ride).Name)
	}
	for from := 0; from < n; from += block {
		err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
			for i := from; i < from+block; i++ {
				if err := member(tx, i); err != nil {
					return err
				}
				if i < riders {
					who := fmt.Sprintf("%s/members/m%d", club, i)
					if err := tx.SaveSignup(&pb.Signup{Name: fmt.Sprintf("%s/signups/m%d", names[i%rides], i), Member: who,
						Bike: who + "/bikes/b0", State: pb.Signup_IN, CreatedAt: tx.Stamp()}); err != nil {
						return err
					}
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}

// member saves one member with two bikes; every third of them has only a clip-on guard at the rear.
func member(tx *ledger.Tx, i int) error {
	name := fmt.Sprintf("%s/members/m%d", club, i)
	if err := tx.SaveMember(&pb.Member{Name: name, DisplayName: "M", Roles: []pb.Role{pb.Role_MEMBER}}); err != nil {
		return err
	}
	for j := range 2 {
		facts := bike("b", 300)
		if i%3 == 0 {
			facts.Guards.Rear = &pb.Guard{Kind: pb.Guard_CLIP_ON, Secure: new(true)}
		}
		record := &pb.Bike{Name: fmt.Sprintf("%s/bikes/b%d", name, j), Declaration: &pb.Declaration{
			Revision: 1, CertifiedAt: timestamppb.New(friday), Facts: facts}}
		if err := tx.SaveBike(record); err != nil {
			return err
		}
	}
	return nil
}

// busy is how long the processor has worked for this process, s.
func busy(b *testing.B) float64 {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return float64(used.Utime.Nano()+used.Stime.Nano()) / 1e9
}

// mostAlive runs work and gives the most that was alive on the heap meanwhile, beyond what was before, MB. It collects
// what is not alive again and again, so work takes longer than otherwise.
func mostAlive(work func()) float64 {
	done := make(chan struct{})
	alive := func() float64 {
		var stats runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&stats)
		return float64(stats.HeapAlloc) / 1e6
	}
	before, most := alive(), 0.0
	go func() {
		defer close(done)
		work()
	}()
	for {
		select {
		case <-done:
			return most
		default:
			most = max(most, alive()-before)
		}
	}
}
