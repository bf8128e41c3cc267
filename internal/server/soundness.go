package server

import (
	"fmt"
	"slices"

	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func protoName(name string) protoreflect.Name { return protoreflect.Name(name) }

// soundPlaces holds groups, stops, hazards and ways out against the route and each other.
func soundPlaces(ride *pb.Ride) error {
	seen := map[string]bool{}
	for i, group := range ride.Groups {
		path := fmt.Sprintf("ride.groups[%d]", i)
		if seen[group.Id] {
			return fault.Invalid(path+".id", "%q is used twice; give each group an id of its own", group.Id)
		}
		seen[group.Id] = true
		if group.MaxSize > 0 && group.MaxSize < group.MinSize {
			return fault.Invalid(path+".max_size", "%d is below min_size %d", group.MaxSize, group.MinSize)
		}
	}
	within := func(path string, atM float64) error {
		if atM <= ride.Route.DistanceM {
			return nil
		}
		return fault.Invalid(path, "%.1f km is beyond the end of the route, which is %.1f km long",
			atM/1000, ride.Route.DistanceM/1000)
	}
	places := map[float64]bool{}
	for i, stop := range ride.Stops {
		if places[stop.AtDistanceM] {
			return fault.Invalid(fmt.Sprintf("ride.stops[%d].at_distance_m", i),
				"there is another stop at %.1f km; make one of the two", stop.AtDistanceM/1000)
		}
		places[stop.AtDistanceM] = true
		if err := within(fmt.Sprintf("ride.stops[%d].at_distance_m", i), stop.AtDistanceM); err != nil {
			return err
		}
	}
	for i, hazard := range ride.Hazards {
		if err := within(fmt.Sprintf("ride.hazards[%d].at_distance_m", i), hazard.AtDistanceM); err != nil {
			return err
		}
	}
	for i, way := range ride.WaysOut {
		if err := within(fmt.Sprintf("ride.ways_out[%d].at_distance_m", i), way.AtDistanceM); err != nil {
			return err
		}
	}
	return nil
}

// soundPeople holds the people named on a ride against the club.
func soundPeople(tx *ledger.Tx, ride *pb.Ride) error {
	leader, err := memberAt(tx, "ride.leader", ride.Leader)
	if err != nil {
		return err
	}
	if !slices.Contains(leader.Roles, pb.Role_LEADER) {
		return fault.Invalid("ride.leader", "%s does not have the role of leader", leader.DisplayName)
	}
	named := map[string]string{}
	once := func(path, name string) error {
		if before := named[name]; before != "" {
			return fault.Invalid(path, "%s is named at %s already; nobody can be in two places", names.Last(name), before)
		}
		named[name] = path
		return nil
	}
	for i, group := range ride.Groups {
		path := fmt.Sprintf("ride.groups[%d]", i)
		if group.Leader != "" {
			if err := once(path+".leader", group.Leader); err != nil {
				return err
			}
			member, err := memberAt(tx, path+".leader", group.Leader)
			if err != nil {
				return err
			}
			if !member.MayLead {
				return fault.Invalid(path+".leader", "%s is not qualified to lead a group", member.DisplayName)
			}
		}
		if group.BackMarker != "" {
			if err := once(path+".back_marker", group.BackMarker); err != nil {
				return err
			}
			member, err := memberAt(tx, path+".back_marker", group.BackMarker)
			if err != nil {
				return err
			}
			if !member.MayMarkBack {
				return fault.Invalid(path+".back_marker", "%s is not qualified as back marker", member.DisplayName)
			}
		}
	}
	return nil
}

// memberAt reads the member that a field names; FIELD_INVALID when there is none.
func memberAt(tx *ledger.Tx, path, name string) (*pb.Member, error) {
	ids, err := names.In(tx.Club, path, name, names.MemberShape)
	if err != nil {
		return nil, err
	}
	member, err := present(tx, ids[1])
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		err = fault.Invalid(path, "there is no member %q", ids[1])
	}
	return member, err
}

// present reads a member who was not erased; NOT_FOUND for one who was.
func present(tx *ledger.Tx, id string) (*pb.Member, error) {
	member, err := tx.Member(id)
	if err == nil && member.ErasedAt != nil {
		err = fault.NotFound(member.Name)
	}
	return member, err
}
