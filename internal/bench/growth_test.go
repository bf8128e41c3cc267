package bench_test

import (
	"context"
	"fmt"
	"io"
	"math"
	"testing"
	"text/tabwriter"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// grown is what one call takes while something grows.
type grown struct {
	what  string
	sizes []int
	// busy is the processor time of a call, s, and reads how many records of the store it read, at each size.
	busy, reads []float64
}

// flat tells whether the call reads as much of the store at the largest size as at the smallest, give or take what lies
// between: how many records it reads does not depend on how busy the machine is.
func (g grown) flat() bool { return g.reads[len(g.reads)-1] <= 1.5*g.reads[0]+10 }

// growth has the tables of what was measured, by what grew.
var growth struct {
	titles []string
	tables map[string][]grown
}

func printGrowth(to io.Writer) {
	for _, title := range growth.titles {
		rows := growth.tables[title]
		w := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
		first, last := rows[0].sizes[0], rows[0].sizes[len(rows[0].sizes)-1]
		fmt.Fprintf(w, "\n%s: processor time\tat %d\tat %d\tgrows as n to the\trecords read\tgrow as n to the\n", title, first, last)
		for _, g := range rows {
			end := len(g.sizes) - 1
			fmt.Fprintf(w, "%s\t%s\t%s\t%.2f\t%.0f to %.0f\t%.2f\n", g.what, ms(g.busy[0]), ms(g.busy[end]), slope(g.sizes, g.busy),
				g.reads[0], g.reads[end], slope(g.sizes, atLeastOne(g.reads)))
		}
		_ = w.Flush()
	}
}

// subject is a club whose size grows around the rides that are measured.
type subject struct {
	*club
	// ride is to come and has a roster; road is under way.
	ride, road *pb.Ride
	marks      int
}

// riding are the riders on each ride.
const riding = 40

// newSubject is a club of 100 with a ride to come and one under way.
func newSubject(b *testing.B) *subject {
	s := &subject{club: newClub(b, 100)}
	s.ride = s.club.ride("Becks", 4)
	s.like(s.ride, "other", 20, 7)
	s.enter(s.ride.Name, 0, riding)
	if _, err := s.rides.PublishRoster(s.as(0), &pb.PublishRosterRequest{Parent: s.ride.Name}); err != nil {
		b.Fatal(err)
	}
	return s
}

// setOff has another ride be the one under way, with nobody marked yet.
func (s *subject) setOff(title string) {
	s.b.Helper()
	if s.road != nil { // one at a time is under way, whatever the size
		s.write(func(tx *ledger.Tx) error { s.road.State = pb.Ride_CALLED_OFF; return tx.SaveRide(s.road) })
	}
	made := s.like(s.ride, title, 1, -2)[0]
	s.enter(made, 0, riding)
	var err error
	if s.road, err = s.rides.GetRide(s.as(0), &pb.GetRideRequest{Name: made}); err != nil {
		s.b.Fatal(err)
	}
	s.write(func(tx *ledger.Tx) error { // the roster that it was published with
		issue, err := tx.Roster(names.Last(s.ride.Name), 1)
		if err == nil {
			issue.Name, issue.Ride = made+"/rosters/1", s.road
			s.road.RosterNumber, s.road.State = 1, pb.Ride_PUBLISHED
			err = tx.AddRoster(issue)
		}
		if err == nil {
			err = tx.SaveRide(s.road)
		}
		return err
	})
	s.marks = 0
}

// past writes rides of so many weeks ago, until there are so many.
func (s *subject) past(from, to int) {
	s.write(func(tx *ledger.Tx) error {
		for i := from; i < to; i++ {
			at := s.ride.StartAt.AsTime().AddDate(0, 0, -30-i/3)
			if err := tx.SaveRide(&pb.Ride{Name: names.Ride(clubID, fmt.Sprintf("%s-past-%d", at.Format(time.DateOnly), i)), Title: "Past",
				Leader: memberName(0), StartAt: timestamppb.New(at), StartLocal: at.Format("2006-01-02T15:04"), State: pb.Ride_CLOSED}); err != nil {
				return err
			}
		}
		return nil
	})
}

// calls are what is measured, each once.
func (s *subject) calls() []struct {
	what string
	do   func(i int) error
} {
	ctx := context.Background()
	member := func(i int) int { return riding + 1 + i%50 } // who is not on the ride
	tell := func(err error) error { return err }
	return []struct {
		what string
		do   func(i int) error
	}{
		{"sign up", func(i int) error {
			request := join(s.ride.Name, member(i))
			request.RequestId = ""
			_, err := s.rides.JoinRide(s.as(member(i)), request)
			return err
		}},
		{"withdraw", func(i int) error {
			_, err := s.rides.WithdrawSignup(s.as(member(i)), &pb.WithdrawSignupRequest{Name: s.ride.Name + "/signups/" + names.Last(memberName(member(i)))})
			return err
		}},
		{"read a roster", func(int) error {
			_, err := s.rides.GetRoster(s.as(7), &pb.GetRosterRequest{Name: s.ride.Name + "/rosters/1"})
			return err
		}},
		{"plan", func(int) error {
			_, err := s.rides.PlanRide(s.as(7), &pb.PlanRideRequest{Name: s.ride.Name})
			return err
		}},
		{"place the riders", func(int) error {
			_, err := s.rides.PlaceRide(s.as(0), &pb.PlaceRideRequest{Name: s.ride.Name})
			return err
		}},
		{"mark a rider", func(i int) error {
			s.marks++
			_, err := s.rolls.RecordMarks(s.as(0), &pb.RecordMarksRequest{Parent: s.road.Name, Marks: []*pb.Mark{{
				Name: fmt.Sprintf("%s/marks/m%d", s.road.Name, s.marks), Member: memberName(i % riding), What: pb.Mark_SIGNED_ON}}})
			return err
		}},
		{"read the roll call", func(int) error {
			_, err := s.rolls.GetRollCall(s.as(0), &pb.GetRollCallRequest{Name: s.road.Name})
			return err
		}},
		{"list the rides", func(int) error {
			_, err := s.rides.ListRides(s.as(7), &pb.ListRidesRequest{Parent: names.Club(clubID), PageSize: 10})
			return err
		}},
		{"list the sign-ups", func(int) error {
			_, err := s.rides.ListSignups(s.as(7), &pb.ListSignupsRequest{Parent: s.ride.Name})
			return err
		}},
		{"who am I", func(int) error {
			_, err := s.clubs.WhoAmI(s.as(7), &pb.WhoAmIRequest{})
			return err
		}},
		{"a call that is refused", func(int) error {
			if _, err := s.rides.PlaceRide(s.as(7), &pb.PlaceRideRequest{Name: s.ride.Name}); err == nil {
				return fmt.Errorf("a member may place riders")
			}
			return nil
		}},
		{"look who is overdue", func(int) error { return tell(s.watch.Look(ctx)) }},
		{"look what is kept no longer", func(int) error { return tell(s.kept.Look(ctx)) }},
	}
}

// measure measures each call at the size that is reached, and adds it to the table of a title.
func (s *subject) measure(b *testing.B, title string, size int) {
	b.Helper()
	const batches, each = 5, 10
	if growth.tables == nil {
		growth.tables = map[string][]grown{}
	}
	if growth.tables[title] == nil {
		growth.titles = append(growth.titles, title)
	}
	s.setOff(fmt.Sprintf("road%d", size+len(growth.titles)))
	calls := s.calls()
	if len(growth.tables[title]) == 0 {
		for _, one := range calls {
			growth.tables[title] = append(growth.tables[title], grown{what: one.what})
		}
	}
	least, reads := make([]float64, len(calls)), make([]float64, len(calls))
	for i := range least {
		least[i] = math.Inf(1)
	}
	for batch := range batches {
		for at, one := range calls { // in turn: what one writes must not stay kept for another
			before, began := s.store.reads.Load(), busy(b)
			for i := range each {
				if err := one.do(batch*each + i); err != nil {
					b.Fatalf("%s: %v", one.what, err)
				}
			}
			least[at] = min(least[at], (busy(b)-began)/each)
			reads[at] = float64(s.store.reads.Load()-before) / each
		}
	}
	for at := range calls {
		g := &growth.tables[title][at]
		g.sizes, g.busy, g.reads = append(g.sizes, size), append(g.busy, least[at]), append(g.reads, reads[at])
	}
}

// BenchmarkGrowth measures the calls on the path of one ride of 40 while the club around it grows: from 100 to 100,000
// members with a past ride for each hundred, and then from 10 to 10,000 riders on other rides to come.
func BenchmarkGrowth(b *testing.B) {
	const byMembers, byRiders = "members", "riders on other rides to come"
	s := newSubject(b)
	for b.Loop() {
		if growth.tables != nil {
			continue // once is enough
		}
		past := 0
		for _, members := range []int{100, 1000, 10_000, manyMembers} {
			s.grow(members)
			s.past(past, members/100)
			past = members / 100
			s.measure(b, byMembers, members)
		}
		riders, rides := 0, 0
		for _, to := range []int{10, 100, 1000, 10_000} {
			for ; riders < to; rides++ {
				more := min(riding, to-riders)
				s.enter(s.like(s.ride, fmt.Sprintf("more%d", rides), 1, 7)[0], 100+riders, 100+riders+more)
				riders += more
			}
			s.measure(b, byRiders, to)
		}
	}
	b.ReportMetric(0, "ns/op")
	for _, title := range growth.titles {
		worst := 0.0
		for _, g := range growth.tables[title] {
			worst = max(worst, slope(g.sizes, atLeastOne(g.reads)))
			if !g.flat() {
				b.Errorf("%s reads %.0f records at %d %s and %.0f at %d", g.what, g.reads[0], g.sizes[0], title, g.reads[len(g.reads)-1], g.sizes[len(g.sizes)-1])
			}
		}
		b.ReportMetric(worst, "worst-exponent-by-"+title[:6])
	}
	s.close()
	many = s.path
}
