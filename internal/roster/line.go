package roster

import (
	"bytes"
	"errors"
	"math"

	"gritward/internal/fault"
	"gritward/internal/route"
	pb "gritward/proto/gritward/v1"
)

// ReadRoute reads a GPX file to the line that is stored and what it measures. ROUTE_INVALID when it cannot be used.
func ReadRoute(gpx []byte) (*pb.RouteLine, *pb.RouteSummary, error) {
	read, err := route.Read(bytes.NewReader(gpx))
	var unusable *route.Error
	if errors.As(err, &unusable) {
		return nil, nil, &fault.Error{
			Reason: pb.Reason_ROUTE_INVALID, Message: "the route file cannot be used",
			Fields: []fault.Field{{Path: "route_gpx", What: unusable.Error()}},
		}
	}
	if err != nil {
		return nil, nil, err
	}
	line, measures := stored(read), summary(read)
	measures.Digest, err = digestOf(line)
	return line, measures, err
}

// summary is what a route measures.
func summary(r *route.Route) *pb.RouteSummary {
	return &pb.RouteSummary{
		Title: r.Name, DistanceM: r.DistanceM, AscentM: r.AscentM, AscentRawM: r.AscentRawM,
		Points:    int32(len(r.Points)),
		LatMinDeg: r.Bounds.MinLatDeg, LonMinDeg: r.Bounds.MinLonDeg,
		LatMaxDeg: r.Bounds.MaxLatDeg, LonMaxDeg: r.Bounds.MaxLonDeg,
		Notes: r.Notes, HasElevation: r.HasElevation, Shape: shapes[r.Shape],
	}
}

var shapes = map[route.Shape]pb.RouteSummary_Shape{
	route.Loop:         pb.RouteSummary_LOOP,
	route.OutAndBack:   pb.RouteSummary_OUT_AND_BACK,
	route.PointToPoint: pb.RouteSummary_POINT_TO_POINT,
}

// stored is a route as it is stored.
func stored(r *route.Route) *pb.RouteLine {
	line := &pb.RouteLine{Title: r.Name}
	for i, point := range r.Points {
		line.LatDeg = append(line.LatDeg, point.LatDeg)
		line.LonDeg = append(line.LonDeg, point.LonDeg)
		line.ElevM = append(line.ElevM, float32(point.ElevM))
		if point.NewSegment && i > 0 {
			line.SegmentStarts = append(line.SegmentStarts, int32(i))
		}
	}
	for _, waypoint := range r.Waypoints {
		line.Waypoints = append(line.Waypoints, &pb.Waypoint{
			Title: waypoint.Name, What: waypoint.Desc, LatDeg: waypoint.LatDeg, LonDeg: waypoint.LonDeg,
			AtDistanceM: waypoint.DistM, OffM: waypoint.OffM,
		})
	}
	return line
}

// measured measures a stored line again.
func measured(line *pb.RouteLine) (*route.Route, error) {
	coords := make([]route.Coord, len(line.LatDeg))
	for i := range coords {
		coords[i] = route.Coord{LatDeg: line.LatDeg[i], LonDeg: line.LonDeg[i], ElevM: math.NaN()}
		if i < len(line.ElevM) {
			coords[i].ElevM = math.Round(float64(line.ElevM[i])*1e4) / 1e4 // 94.9 again, not 94.9000015
		}
	}
	for _, start := range line.SegmentStarts {
		coords[start].NewSegment = true
	}
	var waypoints []route.Waypoint
	for _, waypoint := range line.Waypoints {
		waypoints = append(waypoints, route.Waypoint{
			Name: waypoint.Title, Desc: waypoint.What, LatDeg: waypoint.LatDeg, LonDeg: waypoint.LonDeg})
	}
	return route.New(line.Title, coords, waypoints)
}
