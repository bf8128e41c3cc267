package bench_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"gritward/internal/policy"
	"gritward/internal/readiness"
	"gritward/internal/readiness/readinesstest"
	"gritward/internal/roster"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// BenchmarkRosterRead reads the newest roster of 40 riders in four groups as members of the club do, beside an echo of
// grpc-go that answers with as many bytes.
func BenchmarkRosterRead(b *testing.B) {
	const callers, rounds, calls = 64, 5, 1500
	c := newClub(b, 300)
	ride := c.ride("Becks", 4)
	c.enter(ride.Name, 0, riding)
	if _, err := c.rides.PublishRoster(c.as(0), &pb.PublishRosterRequest{Parent: ride.Name}); err != nil {
		b.Fatal(err)
	}
	asked := wire(b, &pb.GetRosterRequest{Name: ride.Name + "/rosters/-"})
	const method = "/gritward.v1.RideService/GetRoster"
	wires := connections(b, c.address, 8)
	answer, err := call(c.as(200), wires[0], method, asked)
	if err != nil {
		b.Fatal(err)
	}
	address, echoes := echo(b, len(answer))
	echoWires, request := connections(b, address, 8), wire(b, &wrapperspb.BytesValue{Value: make([]byte, len(*asked))})
	var ours, beside []float64
	for b.Loop() {
		for range rounds {
			ours = append(ours, calls/atOnce(b, callers, calls, func(caller, i int) error {
				_, err := call(with(context.Background(), token(caller)), wires[i%len(wires)], method, asked) // of 64 callers 40 ride
				return err
			}))
			beside = append(beside, calls/atOnce(b, callers, calls, func(caller, i int) error {
				_, err := call(with(context.Background(), token(caller)), echoWires[i%len(echoWires)], echoes, request)
				return err
			}))
		}
	}
	report(b, row{what: fmt.Sprintf("reading a roster over gRPC, beside an echo of its %d bytes", len(answer)),
		ours: fmt.Sprintf("%.0f/s", median(ours)), beside: fmt.Sprintf("%.0f/s", median(beside)),
		ratio: median(ours) / median(beside), reach: 0.8, more: true, wall: true})
}

// BenchmarkStandings judges 200 bikes in each of 8 groups, beside the same rules written by hand, without findings.
func BenchmarkStandings(b *testing.B) {
	const riders, groups = 200, 8
	book, whole := readinesstest.Measured(b), readinesstest.WholeBike(b)
	at := friday.Add(time.Hour)
	var plans []*pb.GroupPlan
	var days []readinesstest.Thresholds
	for g := range groups {
		plan := &pb.GroupPlan{Group: fmt.Sprintf("g%d", g), StartAt: timestamppb.New(friday.Add(39 * time.Hour)), LitMin: float64(20 * g), TemperatureMinC: proto.Float64(2),
			Circumstances: []pb.Circumstance{pb.Circumstance_SEASON, pb.Circumstance_DARK}, SeasonFrom: "2026-10-01"}
		plans, days = append(plans, plan), append(days, readinesstest.NewThresholds(plan, at))
	}
	var bikes []readiness.Subject
	for i := range riders {
		bikes = append(bikes, readiness.Subject{Bike: bikeName(i), Declaration: &pb.Declaration{Facts: bikeLike(whole, i), CertifiedAt: timestamppb.New(friday)}})
	}
	for _, bike := range bikes { // the two agree, or they would not be measured beside one another
		for g, plan := range plans {
			if ours, hand := readiness.Standing(book, bike, plan, at), readinesstest.ByHand(bike.Declaration, plan, days[g], at); ours != hand {
				b.Fatalf("%v, by hand %v", ours, hand)
			}
		}
	}
	ours, hand := math.Inf(1), math.Inf(1)
	for b.Loop() {
		for range 10 {
			ours = min(ours, cpu(b, 4, func() {
				for i := range bikes {
					for _, plan := range plans {
						readiness.Standing(book, bikes[i], plan, at)
					}
				}
			}))
			hand = min(hand, cpu(b, 40, func() {
				for i := range bikes {
					for g, plan := range plans {
						readinesstest.ByHand(bikes[i].Declaration, plan, days[g], at)
					}
				}
			}))
		}
	}
	report(b, row{what: "standing of every rider in every group, 200 × 8, beside the rules written by hand",
		ours: ms(ours), beside: ms(hand), ratio: ours / hand, reach: 5})
}

// mostOfFlow is how long it may take to assess and place 40 riders in four groups and to compose their brief, s.
const mostOfFlow = 0.005

// BenchmarkFlow assesses and places 40 riders in four groups on a planned route, seeks how late each group may start, and
// composes the brief; beside it, the same without the seeking.
func BenchmarkFlow(b *testing.B) {
	in := flowInput(b, riding, 4)
	once := func(in roster.Input) {
		placed, err := roster.Place(b.Context(), in)
		if err == nil {
			_, err = roster.Issue(in, placed, memberName(0))
		}
		if err != nil {
			b.Fatal(err)
		}
	}
	without := in
	without.Timelines = nil
	least, late := math.Inf(1), math.Inf(1)
	b.ReportAllocs()
	for b.Loop() {
		for range 5 {
			least = min(least, cpu(b, 10, func() { once(in) }))
			late = min(late, cpu(b, 10, func() { once(without) }))
		}
	}
	allocs := testing.AllocsPerRun(3, func() { once(in) })
	report(b, row{what: "assess, place and brief for 40 riders in 4 groups on a planned route",
		ours: fmt.Sprintf("%s, %.0f allocations", ms(least), allocs), beside: ms(mostOfFlow), ratio: least / mostOfFlow, reach: 1})
	report(b, row{what: "the same, without how late each group may start", ours: ms(late), beside: ms(mostOfFlow), ratio: late / mostOfFlow})
}

// flowInput is what a placement rests on, without a store.
func flowInput(b *testing.B, riders, groups int) roster.Input {
	b.Helper()
	gpx, err := os.ReadFile("../demo/four-becks.gpx")
	if err != nil {
		b.Fatal(err)
	}
	used, problems := policy.Read("winter.yaml", policyfile.Winter)
	if used == nil {
		b.Fatal(problems)
	}
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		b.Fatal(err)
	}
	in := roster.Input{Club: &pb.Club{Name: "clubs/fell", Title: "Fell", Zone: zone.String()}, Ride: sunday("Becks", groups), LeaderName: "Rider 0",
		Policy: used, PolicyNumber: 1, Now: friday}
	in.Ride.Name, in.Ride.Leader, in.Ride.RosterNumber = "clubs/fell/rides/becks", memberName(0), 1
	in.Ride.StartAt = timestamppb.New(time.Date(2026, 12, 13, 10, 30, 0, 0, time.UTC))
	var line *pb.RouteLine
	if line, in.Ride.Route, err = roster.ReadRoute(gpx); err != nil {
		b.Fatal(err)
	}
	if in.Plan, err = roster.Plan(in.Ride, line, used, zone, nil); err != nil {
		b.Fatal(err)
	}
	if in.Timelines, err = roster.NewTimelines(in.Ride, line, used, zone, nil); err != nil {
		b.Fatal(err)
	}
	whole := readinesstest.WholeBike(b)
	for i := range riders {
		in.Entrants = append(in.Entrants, roster.Entrant{Member: person(i),
			Bike:   &pb.Bike{Name: bikeName(i), Declaration: &pb.Declaration{Revision: 1, CertifiedAt: timestamppb.New(friday), Facts: bikeLike(whole, i)}},
			Signup: &pb.Signup{Name: in.Ride.Name + "/signups/m", Member: memberName(i), Bike: bikeName(i), State: pb.Signup_IN, Turn: int32(i + 1)}})
	}
	return in
}
