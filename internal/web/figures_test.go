package web_test

import (
	"fmt"
	"io"
	"net/http"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"gritward/internal/demo"
	"gritward/internal/lull"
	"gritward/internal/names"
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
		w.grownLast = name
	}
	if _, err := rides.PublishRoster(w.as(demo.Leader), &pb.PublishRosterRequest{Parent: w.ride()}); err != nil {
		w.t.Fatal(err)
	}
}

// pageLimit is the server time in which 99 of 100 pages are to be answered, with 200 members and 40 riders.
const pageLimit = 5 * time.Millisecond

// stopwatch notes how long pages take the server.
type stopwatch struct {
	t     testing.TB
	pages http.Handler
	// worked is the processor time of the last page, passed the time by the clock on the wall.
	worked, passed time.Duration
}

// ServeHTTP answers from when the request is read until the last byte is written to the socket.
func (s *stopwatch) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	began, before := time.Now(), busy(s.t)
	s.pages.ServeHTTP(w, r)
	if err := http.NewResponseController(w).Flush(); err != nil {
		s.t.Error(err)
	}
	s.worked, s.passed = busy(s.t)-before, time.Since(began)
}

// BenchmarkPages opens one page of each kind again and again, as the first of these who finds it: the leader of the ride, a secretary, a
// member. It tells beside the limit how long the server takes over it: the processor time of all that it does from when the request is read
// until the last byte of the compressed page is written, calls within the process and the collector of garbage included, where
// it meets a page. Other work on the machine does not count in it, as it does in the time by the clock, which is told too. The browser takes the
// bytes, and no more. One page of each kind is opened straight after another, and then nobody opens one for a moment, in which a server
// collects its garbage (package lull). As many pages of each kind are opened as -benchtime says: -benchtime 300x, so that a
// 99th percentile means something.
func BenchmarkPages(b *testing.B) {
	benchPages(b, func(*world) {})
}

// BenchmarkAfterChange is BenchmarkPages with one rider withdrawn, or signed up again, before each round, and a pause after that, as a
// phone's answer takes to arrive and its next call to come: in it, who rides where is reckoned anew. Its slowest pages are told
// beside the same limit.
func BenchmarkAfterChange(b *testing.B) {
	in := true
	benchPages(b, func(w *world) {
		rides, who := pb.NewRideServiceClient(w.conn), w.as(w.grownLast)
		var err error
		if in {
			_, err = rides.WithdrawSignup(who, &pb.WithdrawSignupRequest{Name: w.ride() + "/signups/" + names.Last(w.member(w.grownLast))})
		} else {
			_, err = rides.JoinRide(who, &pb.JoinRideRequest{Parent: w.ride(), Signup: &pb.Signup{Member: w.member(w.grownLast), Bike: w.member(w.grownLast) + "/bikes/bike-1"}})
		}
		if in = !in; err != nil {
			b.Fatal(err)
		}
	})
}

// benchPages opens a page of each kind in each round; change happens before a round.
func benchPages(b *testing.B, change func(*world)) {
	w := newWorld(b)
	w.grown(200, 40)
	opened := w.everyKind(b)
	watch := &stopwatch{t: b, pages: w.front.Config.Handler}
	w.front.Config.Handler = watch
	for _, one := range opened {
		one.by.takes(one.path) // what is made once is made
	}
	defer debug.SetGCPercent(debug.SetGCPercent(lull.CollectAt)) // as gritwardd does
	pauses := lull.New(w.ahead.Do)
	defer pauses.Stop()
	w.pauses.Store(pauses)
	for b.Loop() {
		change(w)
		time.Sleep(4 * lull.After)
		for _, one := range opened {
			one.by.takes(one.path)
			one.worked, one.passed = append(one.worked, watch.worked), append(one.passed, watch.passed)
		}
	}
	var slowest time.Duration
	var table strings.Builder
	for _, one := range opened {
		most := share(one.worked, 99)
		slowest = max(slowest, most)
		fmt.Fprintf(&table, "%-9s %-46s median %5.2f ms, 99th percentile %5.2f ms, %3.0f %% of the limit; by the clock %5.2f and %5.2f ms\n", one.who, shapeOf(one.path),
			ms(share(one.worked, 50)), ms(most), 100*most.Seconds()/pageLimit.Seconds(), ms(share(one.passed, 50)), ms(share(one.passed, 99)))
	}
	fmt.Print(table.String()) // of a log, a benchmark shows the first lines only
	b.ReportMetric(ms(slowest), "ms-p99-slowest")
	b.ReportMetric(slowest.Seconds()/pageLimit.Seconds(), "of-limit")
}

// opening is a page that somebody opens again and again.
type opening struct {
	who, path      string
	by             *browser
	worked, passed []time.Duration
}

// everyKind is one page of each kind, with somebody who finds it.
func (w *world) everyKind(t testing.TB) (made []*opening) {
	seen := map[string]bool{}
	for _, who := range []struct{ is, name string }{people[1], people[0], people[2]} {
		by := w.signIn(who.name)
		for _, path := range kinds(walk(t, by, false)) {
			if !seen[shapeOf(path)] {
				seen[shapeOf(path)] = true
				made = append(made, &opening{who: who.is, path: path, by: by})
			}
		}
	}
	return made
}

// share is the least of the times that percent of them do not exceed.
func share(times []time.Duration, percent int) time.Duration {
	slices.Sort(times)
	return times[(len(times)*percent+99)/100-1]
}

func ms(d time.Duration) float64 { return d.Seconds() * 1000 }

// takes fetches a page as a browser does, compressed, and looks at nothing of it.
func (b *browser) takes(path string) {
	b.w.t.Helper()
	request, err := http.NewRequest(http.MethodGet, b.w.pages+path, nil)
	if err != nil {
		b.w.t.Fatal(err)
	}
	request.Header.Set("Accept-Encoding", "gzip")
	response, err := b.client.Do(request)
	if err != nil {
		b.w.t.Fatal(err)
	}
	defer func() { _ = response.Body.Close() }()
	if _, err := io.Copy(io.Discard, response.Body); err != nil || response.StatusCode != http.StatusOK {
		b.w.t.Fatalf("%s answers %d: %v", path, response.StatusCode, err)
	}
}
