package roster

import (
	"math"
	"slices"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/pace"
	"gritward/internal/route"
	pb "gritward/proto/gritward/v1"
)

// pointEveryM is about how far apart the points of a plan are, m.
const pointEveryM = 5000

// points picks the places of a timeline that people ask about: start, stops, tops of climbs, every five kilometres,
// home.
func points(timeline *pace.Timeline, line *route.Route, stops []*pb.Stop) []*pb.PlanPoint {
	at := func(distM float64, what string) *pb.PlanPoint {
		return &pb.PlanPoint{At: timestamppb.New(timeline.AtDist(distM)), DistanceM: distM, What: what}
	}
	list := []*pb.PlanPoint{at(0, "start")}
	for m := float64(pointEveryM); m < line.DistanceM; m += pointEveryM {
		list = append(list, at(m, ""))
	}
	for _, climb := range line.Climbs {
		list = append(list, at(climb.ToM, "top of a climb"))
	}
	for _, stop := range stops {
		point := at(stop.AtDistanceM, stop.Title)
		leaves := point.At.AsTime()
		for _, instant := range timeline.Instants {
			if instant.Stop == stop.Title && math.Abs(instant.DistM-stop.AtDistanceM) < 0.01 && instant.At.After(leaves) {
				leaves = instant.At
			}
		}
		point.LeavesAt = timestamppb.New(leaves)
		list = append(list, point)
	}
	home := at(line.DistanceM, "home")
	home.At = timestamppb.New(timeline.Home())
	list = append(list, home)
	slices.SortStableFunc(list, func(a, b *pb.PlanPoint) int {
		if order := a.At.AsTime().Compare(b.At.AsTime()); order != 0 {
			return order
		}
		return int(a.DistanceM - b.DistanceM)
	})
	return list
}
