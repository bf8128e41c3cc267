package roster_test

import (
	"fmt"
	"testing"

	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// multitude is many riders of every kind for many groups, a third of them with a wish for a group; in each so many places.
func multitude(b *testing.B, riders, groups, places int) roster.Input {
	line, ride := becks(b)
	ride.Groups = nil
	for g := range groups {
		ride.Groups = append(ride.Groups, &pb.Group{
			Id: fmt.Sprintf("g%d", g), Title: fmt.Sprintf("Group %d", g), PaceKmh: 20 + 10*float64(g)/float64(groups),
			MaxSize: int32(places), MinSize: int32(places / 3),
		})
	}
	planned, err := roster.Plan(ride, line, winter(b), london(b), nil)
	if err != nil {
		b.Fatal(err)
	}
	in := input(b, nil)
	in.Ride, in.Plan = ride, planned
	for i := range riders {
		one := entrant(i, 16+float64(i*7%13), i%6 == 0, i%5 == 0, []string{"ready", "ready", "short", "bare", "ready"}[i%5])
		if i%3 == 0 {
			one.Signup.PreferredGroup = fmt.Sprintf("g%d", i*5%groups)
		}
		in.Entrants = append(in.Entrants, one)
	}
	return in
}

// BenchmarkPlaceMany places clubs of 200 and 1,000 with all that is told of it, wishes and conflicts too; the limits are half
// a second and five seconds of an idle core.
func BenchmarkPlaceMany(b *testing.B) {
	for _, size := range []struct {
		riders, groups, places int
		limit                  float64
	}{{200, 8, 30, 0.5}, {200, 8, 18, 0.5}, {1000, 10, 120, 5}, {1000, 10, 75, 5}} {
		b.Run(fmt.Sprintf("%dx%d/%d", size.riders, size.groups, size.places), func(b *testing.B) {
			in := multitude(b, size.riders, size.groups, size.places)
			var placed *pb.Placement
			for b.Loop() {
				var err error
				if placed, err = roster.Place(b.Context(), in); err != nil {
					b.Fatal(err)
				}
			}
			wished := 0
			for _, group := range placed.Groups {
				for _, row := range group.Rows {
					for _, rider := range []*pb.Rider{row.Left, row.Right} {
						if rider.GetWishedWhy() != "" {
							wished++
						}
					}
				}
			}
			b.ReportMetric(float64(wished), "unmet")
			b.ReportMetric(float64(len(placed.Unplaced)), "unplaced")
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/size.limit, "of_limit")
		})
	}
}
