package roster_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/policy"
	"gritward/internal/readiness"
	"gritward/internal/roster"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// hills is a line of 20 km out to the north-west and back, with hills.
func hills() *pb.RouteLine {
	line := &pb.RouteLine{Title: "Hills"}
	for i := range 81 {
		out := float64(min(i, 80-i))
		line.LatDeg, line.LonDeg = append(line.LatDeg, 54+0.002*out), append(line.LonDeg, -2-0.002*out)
		line.ElevM = append(line.ElevM, float32(200+80*math.Sin(out/4)))
	}
	return line
}

// strict is the shipped policy with one rule more, in words of the club's own, that comes and goes with the start.
func strict(t testing.TB) *policy.Policy {
	t.Helper()
	text := string(policyfile.Winter) + `
  - id: own-words
    check: expression
    when: always
    need: group.lit_min < 20 || bike.lights.exists(l, l.end == REAR && l.runtime_min >= 120)
    otherwise: advise
    because: A second opinion.
`
	p, problems := policy.Read("strict.yaml", []byte(text))
	if p == nil {
		t.Fatal(problems)
	}
	return p
}

// drawnRide is a ride of one group in weather that changes, with riders whose lamps last for a while and whose
// declarations run out about that day.
func drawnRide(rt *rapid.T, zone *time.Location) (*pb.Ride, []roster.Entrant) {
	start := time.Date(2026, 10, 20+rapid.IntRange(0, 160).Draw(rt, "day"), rapid.IntRange(3, 20).Draw(rt, "hour"), rapid.IntRange(0, 59).Draw(rt, "minute"), 0, 0, time.UTC)
	ride := &pb.Ride{Name: "clubs/c/rides/r", StartAt: timestamppb.New(start),
		Groups: []*pb.Group{{Id: "easy", PaceKmh: rapid.Float64Range(14, 30).Draw(rt, "pace"), StartOffsetMin: int32(rapid.IntRange(0, 30).Draw(rt, "offset"))}}}
	if rapid.Bool().Draw(rt, "stops") {
		ride.Stops = []*pb.Stop{{Title: "Barn", AtDistanceM: rapid.Float64Range(0, 15000).Draw(rt, "at"), Minutes: int32(rapid.IntRange(1, 60).Draw(rt, "minutes"))}}
	}
	weather := func(what string) *pb.Weather {
		return &pb.Weather{TemperatureC: proto.Float64(float64(rapid.IntRange(-6, 12).Draw(rt, what+" temperature"))),
			WindKmh: proto.Float64(float64(rapid.IntRange(0, 50).Draw(rt, what+" wind"))), WindFromDeg: proto.Float64(float64(rapid.IntRange(0, 359).Draw(rt, what+" from"))),
			HumidityPct: proto.Float64(90), Wet: proto.Bool(rapid.Bool().Draw(rt, what+" wet")),
			VisibilityM: proto.Float64(rapid.SampledFrom([]float64{50, 5000, 9000}).Draw(rt, what+" visibility"))}
	}
	if hours := rapid.IntRange(0, 4).Draw(rt, "hours"); hours > 0 {
		ride.Conditions = &pb.Conditions{Start: weather("start")}
		for i := 1; i < hours; i++ {
			from := start.In(zone).Add(time.Duration(i) * time.Duration(rapid.IntRange(20, 200).Draw(rt, "after")) * time.Minute)
			if clock := from.Format("15:04"); from.Add(time.Hour).Format("15:04") == clock || from.Add(-time.Hour).Format("15:04") == clock {
				continue // it happens twice, and is refused
			}
			if later := ride.Conditions.Later; len(later) > 0 && from.Format("2006-01-02T15:04") <= later[len(later)-1].FromLocal {
				continue
			}
			ride.Conditions.Later = append(ride.Conditions.Later, &pb.HourWeather{FromLocal: from.Format("2006-01-02T15:04"), Weather: weather("later")})
		}
	}
	var riders []roster.Entrant
	for i := range rapid.IntRange(1, 4).Draw(rt, "riders") {
		one := entrant(i, 16, true, true, rapid.SampledFrom([]string{"ready", "bare"}).Draw(rt, "bike"))
		for _, light := range one.Bike.Declaration.Facts.Lights {
			light.RuntimeMin = proto.Float64(float64(rapid.IntRange(20, 200).Draw(rt, "lamp")))
		}
		certified := start.Add(-28*24*time.Hour + time.Duration(rapid.IntRange(-60, 2000).Draw(rt, "declared"))*time.Minute)
		one.Bike.Declaration.CertifiedAt = timestamppb.New(certified)
		riders = append(riders, one)
	}
	return ride, riders
}

func startLimits(ride *pb.Ride, line *pb.RouteLine, p *policy.Policy, zone *time.Location, riders []roster.Entrant) ([]*pb.StartLimit, error) {
	lines, err := roster.NewTimelines(ride, line, p, zone, nil)
	if err != nil {
		return nil, err
	}
	return roster.StartLimits(lines, riders, friday)
}

// later is the ride with another start and the weather at its hours.
func later(ride *pb.Ride, start time.Time, zone *time.Location) *pb.Ride {
	moved := proto.CloneOf(ride)
	moved.StartAt = timestamppb.New(start)
	for len(moved.Conditions.GetLater()) > 0 && moved.Conditions.Later[0].FromLocal <= start.In(zone).Format("2006-01-02T15:04") {
		moved.Conditions.Start = moved.Conditions.Later[0].Weather
		moved.Conditions.Later = moved.Conditions.Later[1:]
	}
	return moved
}

// The start told is the one that trying starts all along, and every second before the answer, finds: at none up to it does
// anybody stand worse, and a second later the riders named do. Each start is planned from the beginning.
func TestStartLimitAgainstAFineStep(t *testing.T) {
	line, p, zone := hills(), strict(t), london(t)
	found := 0
	rapid.Check(t, func(rt *rapid.T) {
		ride, riders := drawnRide(rt, zone)
		limits, err := startLimits(ride, line, p, zone, riders)
		if err != nil {
			rt.Fatal(err)
		}
		limit := limits[0]
		planned := ride.StartAt.AsTime()
		standings := func(slip time.Duration) []pb.Standing {
			moved := later(ride, planned.Add(slip), zone)
			plan, err := roster.Plan(moved, line, p, zone, nil)
			if err != nil {
				rt.Fatal(err)
			}
			var all []pb.Standing
			for _, rider := range riders {
				all = append(all, readiness.Standing(p.Book(), rider.Subject(), plan.Groups[0], friday))
			}
			return all
		}
		before := standings(0)
		worse := func(slip time.Duration) string {
			var names []string
			for i, standing := range standings(slip) {
				if standing > before[i] {
					names = append(names, fmt.Sprintf("%s %s>%s", riders[i].Member.DisplayName, before[i], standing))
				}
			}
			return strings.Join(names, ", ")
		}
		first := planned.Add(time.Duration(ride.Groups[0].StartOffsetMin) * time.Minute)
		y, m, d := first.In(zone).Date()
		last := time.Date(y, m, d+1, 0, 0, 0, 0, zone).Add(-time.Second)
		if limit.LatestStartAt != nil {
			found++
			last = limit.LatestStartAt.AsTime()
			var told []string
			for _, one := range limit.Worse {
				told = append(told, fmt.Sprintf("%s %s>%s", one.DisplayName, one.Before, one.After))
			}
			if want := worse(last.Add(time.Second).Sub(first)); want == "" || want != strings.Join(told, ", ") {
				rt.Fatalf("a second after %s: %q, told %q", last, want, told)
			}
		}
		step := last.Sub(first)/time.Duration(rapid.IntRange(5, 12).Draw(rt, "steps")) + time.Second
		for at := first; !at.After(last); at = at.Add(step) {
			if who := worse(at.Sub(first)); who != "" {
				rt.Fatalf("the limit is %v, and at %s already %s", limit, at, who)
			}
		}
		for at := last.Add(-3 * time.Second); at.Before(last); at = at.Add(time.Second) {
			if at.After(first) && worse(at.Sub(first)) != "" {
				rt.Fatalf("the limit is %v, and at %s already %s", limit, at, worse(at.Sub(first)))
			}
		}
	})
	if found == 0 {
		t.Error("no ride had a limit")
	}
}

// Each group of a placement has the limit of its own riders, with the rules that are no longer met.
func TestPlacementTellsStartLimits(t *testing.T) {
	riders := []roster.Entrant{entrant(0, 16, true, true, "ready"), entrant(1, 16, true, true, "ready"), entrant(2, 16, false, false, "ready"),
		entrant(3, 16, false, false, "short")}
	in := input(t, riders)
	in.Line, _ = becks(t)
	for i := range riders {
		riders[i].Member.PaceMinKmh, riders[i].Member.PaceMaxKmh = 22, 25
	}
	placed, err := roster.Place(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	if len(placed.Groups) != 1 || placed.Groups[0].Group != "steady" {
		t.Fatalf("placed %v", placed)
	}
	limit := placed.Groups[0].StartLimit
	if limit.GetRiders() != 4 || limit.GetLatestStartAt() == nil || len(limit.Worse) == 0 {
		t.Fatalf("limit %v", limit)
	}
	one := limit.Worse[0]
	if one.DisplayName != "Rider m3" || one.After != pb.Standing_HELD || !strings.Contains(strings.Join(one.Rules, " "), "light") {
		t.Errorf("worse: %v", one)
	}
	if none, err := startLimits(in.Ride, in.Line, in.Policy, london(t), nil); err != nil || none[0].LatestStartAt != nil || none[0].Riders != 0 {
		t.Errorf("without riders: %v %v", none, err)
	}
}

// BenchmarkStartLimits is sixty riders in each of five groups over 78 km, in weather that changes every hour.
func BenchmarkStartLimits(b *testing.B) {
	line, ride := becks(b)
	ride.Groups = append(ride.Groups, &pb.Group{Id: "gentle", PaceKmh: 16}, &pb.Group{Id: "fast", PaceKmh: 30})
	mild := func() *pb.Weather {
		return &pb.Weather{TemperatureC: proto.Float64(9), WindKmh: proto.Float64(15), WindFromDeg: proto.Float64(240)}
	}
	hourly := &pb.Conditions{Start: mild()}
	for hour := 11; hour < 23; hour++ {
		hourly.Later = append(hourly.Later, &pb.HourWeather{FromLocal: fmt.Sprintf("2026-12-13T%d:00", hour), Weather: mild()})
	}
	var riders []roster.Entrant
	for i := range 60 {
		riders = append(riders, entrant(i, 18, i%5 == 0, i%4 == 0, []string{"ready", "bare"}[i%2]))
	}
	p, zone := winter(b), london(b)
	for name, conditions := range map[string]*pb.Conditions{"one weather": nil, "hourly": hourly} {
		b.Run(name, func(b *testing.B) {
			ride.Conditions = conditions
			for b.Loop() {
				if _, err := startLimits(ride, line, p, zone, riders); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
