package roster

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/policy"
	"gritward/internal/route"
	pb "gritward/proto/gritward/v1"
)

// maxExport is the largest file handed out, bytes.
const maxExport = 24 << 20

// Export writes the cleaned line of a ride as GPX 1.1, with its stops, hazards and ways out as waypoints, and a track and planned times for each of the groups with these
// ids, or for all when none is named. The times are those of [Plan] for the same policy, nil for none, and past. FIELD_INVALID for a group that the ride does not have, and for a file too large.
func Export(ride *pb.Ride, line *pb.RouteLine, used *policy.Policy, zone *time.Location, past []*pb.RecordedTime, groups []string) ([]byte, error) {
	for i, id := range groups {
		if !slices.ContainsFunc(ride.Groups, func(g *pb.Group) bool { return g.Id == id }) {
			return nil, fault.Invalid(fmt.Sprintf("groups[%d]", i), "the ride has no group %q", id)
		}
	}
	planner, err := newPlanner(ride, line, used, zone, past)
	if err != nil {
		return nil, err
	}
	var tracks []route.Track
	for _, group := range ride.Groups {
		if len(groups) > 0 && !slices.Contains(groups, group.Id) {
			continue
		}
		track, err := planner.track(group)
		if err != nil {
			return nil, fmt.Errorf("group %s: %w", group.Id, err)
		}
		tracks = append(tracks, track)
	}
	file := &capped{left: maxExport}
	told := *planner.line
	told.Waypoints = placesOf(ride, planner.line)
	if err := route.Write(file, &told, tracks); err != nil {
		return nil, err
	}
	return file.Bytes(), nil
}

// samePlaceM is how near along the line a waypoint of the file and a place of the ride of the same name are one.
const samePlaceM = 50

// placesOf are the waypoints of the route file and the places of the ride, each with a type by which they are read again: a
// hazard that the leader typed is to be seen on the way, too.
func placesOf(ride *pb.Ride, line *route.Route) []route.Waypoint {
	places := slices.Clone(line.Waypoints)
	put := func(kind, name string, distM float64) {
		for i, one := range places {
			if one.Name != "" && strings.HasPrefix(name, one.Name) && math.Abs(one.DistM-distM) <= samePlaceM {
				places[i].Type = kind
				return
			}
		}
		lat, lon := line.At(distM)
		places = append(places, route.Waypoint{Name: name, Type: kind, LatDeg: lat, LonDeg: lon, DistM: distM})
	}
	for _, stop := range ride.Stops {
		put("stop", stop.Title, stop.AtDistanceM)
	}
	for _, hazard := range ride.Hazards {
		put("hazard", hazard.What, hazard.AtDistanceM)
	}
	for _, way := range ride.WaysOut {
		put("way out", way.What, way.AtDistanceM)
	}
	return places
}

// track is a group's ride along the line.
func (p *planner) track(group *pb.Group) (route.Track, error) {
	timeline, _, err := p.timeline(group, p.startOf(group))
	if err != nil {
		return route.Track{}, err
	}
	track := route.Track{
		Name: p.ride.Title + ", " + titleOf(group),
		Desc: fmt.Sprintf("Planned for %s, %g km/h on a flat road in still air. Times are reckoned, not promised.",
			when(timeline.Start().Format(civil.TimeLayout)), group.PaceKmh),
	}
	for _, point := range p.line.Points {
		track.At = append(track.At, timeline.AtDist(point.DistM))
	}
	// A stop is two instants in the timeline, at one place and of one name.
	for i := 1; i < len(timeline.Instants); i++ {
		from, leave := timeline.Instants[i-1], timeline.Instants[i]
		if from.Stop != "" && from.Stop == leave.Stop && from.DistM == leave.DistM {
			track.Halts = append(track.Halts, route.Halt{Name: from.Stop, DistM: from.DistM, From: from.At, Leave: leave.At})
		}
	}
	return track, nil
}

// capped is a buffer that refuses to grow too large.
type capped struct {
	bytes.Buffer
	left int
}

func (c *capped) Write(text []byte) (int, error) {
	if c.left -= len(text); c.left < 0 {
		return 0, fault.Invalid("groups", "the file would be larger than %d MiB; ask for fewer groups at a time", maxExport>>20)
	}
	return c.Buffer.Write(text)
}
