package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"sync"
	"testing"
	"time"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

// times are how long the server took over each page.
type times struct {
	mu sync.Mutex
	by map[string][]time.Duration
}

// of measures a handler while somebody asks for it.
func (m *times) of(handler http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := time.Now()
		handler.ServeHTTP(w, r)
		took := time.Since(began)
		m.mu.Lock()
		defer m.mu.Unlock()
		if m.by != nil {
			m.by[r.URL.Path] = append(m.by[r.URL.Path], took)
		}
	})
}

// begin forgets what was measured and measures from now on.
func (m *times) begin() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.by = map[string][]time.Duration{}
}

// at is the time under which a part of the pages at a path were answered, 0 < part <= 1.
func (m *times) at(path string, part float64) time.Duration {
	m.mu.Lock()
	defer m.mu.Unlock()
	all := slices.Sorted(slices.Values(m.by[path]))
	if len(all) == 0 {
		return 0
	}
	return all[min(int(part*float64(len(all))), len(all)-1)]
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

// pageLimit is the server time in which 99 of 100 pages are to be answered, on an idle core, with 200 members and 40 riders.
const pageLimit = 5 * time.Millisecond

// BenchmarkPages opens one page of each kind again and again, as the leader of the ride, and tells the server time of the
// slowest kind beside its limit. Measure on one core that does nothing else: GOMAXPROCS=1 go test ./internal/web -run '^$' -bench Pages
func BenchmarkPages(b *testing.B) {
	w := newWorld(b)
	w.grown(200, 40)
	leader := w.signIn(demo.Leader)
	paths := kinds(walk(b, leader, false))
	for _, path := range paths {
		leader.open(path) // what is parsed once
	}
	w.took.begin()
	for b.Loop() {
		for _, path := range paths {
			leader.open(path)
		}
	}
	worst, slowest := time.Duration(0), ""
	for _, path := range paths {
		at, _ := url.Parse(path)
		half, most := w.took.at(at.Path, 0.5), w.took.at(at.Path, 0.99)
		b.Logf("%-40s median %6.2f ms, 99th percentile %6.2f ms", shapeOf(path), half.Seconds()*1000, most.Seconds()*1000)
		if half > worst {
			worst, slowest = half, path
		}
	}
	at, _ := url.Parse(slowest)
	b.ReportMetric(w.took.at(at.Path, 0.99).Seconds()*1000, "ms-p99-slowest")
	b.ReportMetric(w.took.at(at.Path, 0.99).Seconds()/pageLimit.Seconds(), "of-limit")
}
