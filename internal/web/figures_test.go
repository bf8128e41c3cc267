package web_test

import (
	"fmt"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

// busy is how long the processor has worked for this process. Other work on the machine does not count in it.
func busy(t testing.TB) time.Duration {
	t.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		t.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// grown lets the club grow to a number of members, and Sunday's ride to a number of riders, and publishes its roster anew.
func (w *world) grown(members, riders int) {
	w.t.Helper()
	clubs, bikes, rides := pb.NewClubServiceClient(w.conn), pb.NewBikeServiceClient(w.conn), pb.NewRideServiceClient(w.conn)
	entrants, err := rides.ListSignups(w.as(demo.Leader), &pb.ListSignupsRequest{Parent: w.ride(), PageSize: 1000})
	if err != nil {
		w.t.Fatal(err)
	}
	bike, err := bikes.GetBike(w.as(demo.Leader), &pb.GetBikeRequest{Name: w.member(demo.Leader) + "/bikes/bike-1"})
	if err != nil {
		w.t.Fatal(err)
	}
	going := len(entrants.Signups)
	for i := len(w.story.Names); i < members; i++ {
		name := fmt.Sprintf("Rider Number%d", i)
		made, err := clubs.CreateInvite(w.as(demo.Secretary), &pb.CreateInviteRequest{Parent: w.club(), Invite: &pb.Invite{DisplayName: name}})
		if err != nil {
			w.t.Fatal(err)
		}
		let, err := clubs.AcceptInvite(w.t.Context(), &pb.AcceptInviteRequest{Code: made.Code, DeviceTitle: "phone"})
		if err != nil {
			w.t.Fatal(err)
		}
		w.story.Names[name], w.story.Tokens[name] = let.Member.Name, let.Token
		if going >= riders {
			continue
		}
		going++
		declared, err := bikes.DeclareBike(w.as(name), &pb.DeclareBikeRequest{Parent: let.Member.Name, Facts: bike.Declaration.Facts})
		if err != nil {
			w.t.Fatal(err)
		}
		if _, err := rides.JoinRide(w.as(name), &pb.JoinRideRequest{Parent: w.ride(), Signup: &pb.Signup{Member: let.Member.Name, Bike: declared.Bike.Name}}); err != nil {
			w.t.Fatal(err)
		}
	}
	if _, err := rides.PublishRoster(w.as(demo.Leader), &pb.PublishRosterRequest{Parent: w.ride()}); err != nil {
		w.t.Fatal(err)
	}
}

// pageLimit is the server time in which 99 of 100 pages are to be answered, with 200 members and 40 riders.
const pageLimit = 5 * time.Millisecond

// BenchmarkPages opens one page of each kind again and again, as the leader of the ride, and tells the processor time of the
// slowest kind beside the limit. The time is that of the server and of the client that asks it, which other work on the machine
// does not blur. As many pages are opened as -benchtime says: -benchtime 100x.
func BenchmarkPages(b *testing.B) {
	w := newWorld(b)
	w.grown(200, 40)
	leader := w.signIn(demo.Leader)
	paths := kinds(walk(b, leader, false))
	took := map[string][]time.Duration{}
	for b.Loop() {
		for _, path := range paths {
			before := busy(b)
			leader.open(path)
			took[path] = append(took[path], busy(b)-before)
		}
	}
	var slowest time.Duration
	var table strings.Builder
	for _, path := range paths {
		slices.Sort(took[path])
		half, most := took[path][len(took[path])/2], took[path][len(took[path])*99/100]
		slowest = max(slowest, most)
		fmt.Fprintf(&table, "%-50s median %6.2f ms, 99th percentile %6.2f ms\n", shapeOf(path), half.Seconds()*1000, most.Seconds()*1000)
	}
	fmt.Print(table.String()) // of a log, a benchmark shows the first lines only
	b.ReportMetric(slowest.Seconds()*1000, "ms-p99-slowest")
	b.ReportMetric(slowest.Seconds()/pageLimit.Seconds(), "of-limit")
}
