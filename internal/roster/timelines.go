package roster

import (
	"fmt"
	"time"

	"gritward/internal/pace"
	"gritward/internal/policy"
	pb "gritward/proto/gritward/v1"
)

// Timelines are a ride's line, measured, and the timelines of its groups, as [Plan] reckons them: what it takes to tell how
// late the groups may start. They never change; what was found by them is kept with them.
type Timelines struct {
	planner *planner
	groups  map[string]groupLine // by the group's id
	judged  judged
}

// groupLine is a group's ride from its planned start, and what past rides tell of it.
type groupLine struct {
	timeline *pace.Timeline
	past     *pb.PastTimes
}

// NewTimelines takes what Plan takes, and gives the errors that Plan gives.
func NewTimelines(ride *pb.Ride, line *pb.RouteLine, p *policy.Policy, zone *time.Location, past []*pb.RecordedTime) (*Timelines, error) {
	planner, err := newPlanner(ride, line, p, zone, past)
	if err != nil {
		return nil, err
	}
	made := &Timelines{planner: planner, groups: map[string]groupLine{}}
	for _, group := range ride.Groups {
		timeline, past, err := planner.timeline(group, planner.startOf(group))
		if err != nil {
			return nil, fmt.Errorf("group %s: %w", group.Id, err)
		}
		made.groups[group.Id] = groupLine{timeline, past}
	}
	return made, nil
}
