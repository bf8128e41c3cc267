package demo

import (
	_ "embed"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// Route is the route of the demo's ride, an invented loop of 78 km.
//
//go:embed four-becks.gpx
var Route []byte

// sunday is the ride: late enough for the slowest group to be out in the dusk.
func sunday(leader string) *pb.Ride {
	return &pb.Ride{
		Title: "Four Becks", Leader: leader, StartLocal: "2026-12-13T10:30",
		MeetingPoint: "Marrowdale, by the old weighbridge", LeaderPhone: "+44 1632 960 111",
		Groups: []*pb.Group{
			{Id: "brisk", Title: "Brisk", PaceKmh: 27},
			{Id: "steady", Title: "Steady", PaceKmh: 23.5},
			{Id: "easy", Title: "Easy", PaceKmh: 18},
		},
		Stops: []*pb.Stop{{Title: "Tollgate barn cafe", AtDistanceM: 36500, Minutes: 40}},
		Hazards: []*pb.PlaceNote{
			{AtDistanceM: 12400, What: "Sharp left over a hump bridge at the foot of the first descent"},
			{AtDistanceM: 46700, What: "Ford at Nether Sike: walk the footbridge when the road is under water"},
			{AtDistanceM: 60100, What: "Cattle grid, slippery when wet: ride it square"},
		},
		WaysOut: []*pb.PlaceNote{{AtDistanceM: 51000, What: "Railway station at Cold Ings, 2 km to the left"}},
		Conditions: &pb.Conditions{
			Start: &pb.Weather{
				TemperatureC: proto.Float64(4), WindKmh: proto.Float64(14), WindFromDeg: proto.Float64(240),
				GustKmh: proto.Float64(28), HumidityPct: proto.Float64(88), VisibilityM: proto.Float64(8000),
				Wet: proto.Bool(true), RecentlyWet: proto.Bool(true), ClearSky: proto.Bool(false),
			},
			Source: "invented for the demo",
		},
	}
}
