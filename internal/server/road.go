package server

import (
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// road is a route read from a file: what is stored of it, and what it measures.
type road struct {
	line    *pb.RouteLine
	summary *pb.RouteSummary
}

func readRoad(gpx []byte) (*road, error) {
	line, summary, err := roster.ReadRoute(gpx)
	return &road{line: line, summary: summary}, err
}

// givenRoad is the route that came with a new ride; nil where that of an earlier one is to be taken.
func givenRoad(who *caller, request *pb.CreateRideRequest) (*road, error) {
	switch given := len(request.RouteGpx) > 0; {
	case given && request.RouteOf != "":
		return nil, fault.Invalid("route_of", "a route came as a file; leave this empty, or the file out")
	case given:
		return readRoad(request.RouteGpx)
	case request.RouteOf == "":
		return nil, fault.Invalid("route_gpx", "is missing: a ride needs its route, a GPX file")
	}
	_, err := names.In(who.club, "route_of", request.RouteOf, names.RideShape)
	return nil, err
}

// roadOf is the route of an earlier ride.
func roadOf(tx *ledger.Tx, id string) (*road, error) {
	ride, err := tx.Ride(id)
	if err != nil {
		return nil, err
	}
	line, err := tx.Route(id)
	return &road{line: line, summary: ride.Route}, err
}
