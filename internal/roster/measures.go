package roster

import (
	"google.golang.org/protobuf/proto"

	"gritward/internal/route"
	pb "gritward/proto/gritward/v1"
)

// MeasuredLine is a stored line with what is measured along it: the distance of each point, the smoothed elevation, climbs and
// steep descents. The line itself is not changed.
func MeasuredLine(line *pb.RouteLine) (*pb.RouteLine, error) {
	read, err := measured(line)
	if err != nil {
		return nil, err
	}
	told := proto.CloneOf(line)
	for _, point := range read.Points {
		told.AtDistanceM = append(told.AtDistanceM, point.DistM)
		if read.HasElevation {
			told.SmoothElevM = append(told.SmoothElevM, float32(point.SmoothElevM))
		}
	}
	told.Climbs, told.Descents = slopes(read.Climbs), slopes(read.Descents)
	return told, nil
}

func slopes(stretches []route.Stretch) (told []*pb.Slope) {
	for _, one := range stretches {
		told = append(told, &pb.Slope{FromM: one.FromM, ToM: one.ToM, GainM: one.GainM, MeanPct: 100 * one.GradientMean, SteepestPct: 100 * one.GradientMax})
	}
	return told
}
