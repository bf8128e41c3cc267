package server_test

import (
	"fmt"
	"runtime"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// BenchmarkPreview previews a stricter policy over 10,000 bikes and 2,000 riders on rides to come, over the wire. The
// limit is one second on one core.
func BenchmarkPreview(b *testing.B) {
	w := newWorldFor(b)
	people(w)
	const members, rides = 5000, 20
	var names []string
	for i := range rides {
		ride := sunday()
		ride.Title = fmt.Sprintf("Ride %d", i)
		names = append(names, w.ride("lea", ride).Name)
	}
	for block := range members / 500 {
		err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
			for i := block * 500; i < block*500+500; i++ {
				member := fmt.Sprintf("%s/members/m%d", club, i)
				if err := tx.SaveMember(&pb.Member{Name: member, DisplayName: "M", Roles: []pb.Role{pb.Role_MEMBER}}); err != nil {
					return err
				}
				for j := range 2 {
					facts := bike("b", 300)
					if i%3 == 0 {
						facts.Guards.Rear = &pb.Guard{Kind: pb.Guard_CLIP_ON}
					}
					record := &pb.Bike{Name: fmt.Sprintf("%s/bikes/b%d", member, j), Declaration: &pb.Declaration{
						Revision: 1, CertifiedAt: timestamppb.New(friday), Facts: facts}}
					if err := tx.SaveBike(record); err != nil {
						return err
					}
				}
				if i < 2000 {
					ride := names[i%rides]
					if err := tx.SaveSignup(&pb.Signup{Name: fmt.Sprintf("%s/signups/m%d", ride, i), Member: member,
						Bike: member + "/bikes/b0", State: pb.Signup_IN, CreatedAt: tx.Stamp()}); err != nil {
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
	request := &pb.PreviewPolicyRequest{Parent: club, File: "strict.yaml", Content: stricter(b), Most: 100}
	var before, after runtime.MemStats
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		runtime.ReadMemStats(&before)
		got, err := w.policies.PreviewPolicy(w.as("sec"), request, grpc.MaxCallRecvMsgSize(32<<20))
		if err != nil || got.BikesSeen < 10000 || got.RidersSeen != 4000 {
			b.Fatal(got.GetBikesSeen(), got.GetRidersSeen(), told(err))
		}
		runtime.ReadMemStats(&after)
		b.ReportMetric(float64(after.HeapInuse)/1e6, "heap-MB")
	}
}
