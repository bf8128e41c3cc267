package roster

import (
	"context"
	"slices"

	"gritward/internal/placement"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// pin is where the leader has fixed a rider; nil where nowhere, or in a group that is no longer offered.
func (s *seating) pin(id string) *pb.Pin {
	pin := s.entrants[id].Signup.GetPin()
	if _, offered := s.titles[pin.GetGroup()]; !offered {
		return nil
	}
	return pin
}

// groupPin is what the leader has fixed of a group; nil where nothing.
func (s *seating) groupPin(group string) *pb.GroupPin {
	for _, pin := range s.in.Ride.GetGroupPins() {
		if pin.Group == group {
			return pin
		}
	}
	return nil
}

// counts tells whether what was set aside for a rider still counts: a rule only for the declaration that it was about.
func (s *seating) counts(id string, set *pb.Override) bool {
	return set.Rule == "" || set.DeclarationRevision == s.entrants[id].Bike.GetDeclaration().GetRevision()
}

// standing is a rider's standing in a group, by the findings that were not set aside for a pin there.
func (s *seating) standing(id, group string) pb.Standing {
	rules := s.rulesSetAside(id, group)
	if len(rules) > 0 {
		return readiness.Worst(s.assessment(id, group).GetFindings(), rules)
	}
	if at := s.planned(group); at >= 0 {
		return s.stands[id][at]
	}
	return pb.Standing_STANDING_UNSPECIFIED
}

// rulesSetAside are the rules set aside for a rider in a group, by their ids.
func (s *seating) rulesSetAside(id, group string) map[string]bool {
	rules := map[string]bool{}
	if pin := s.pin(id); pin.GetGroup() == group {
		for _, set := range pin.GetOverrides() {
			rules[set.Rule] = set.Rule != "" && s.counts(id, set)
		}
	}
	return rules
}

// setAside tells whether a limit was set aside for a rider's pin.
func (s *seating) setAside(id string, limit pb.Override_Limit) bool {
	return slices.ContainsFunc(s.pin(id).GetOverrides(), func(set *pb.Override) bool { return set.Limit == limit })
}

// pinRider puts what the leader has fixed for a rider into the rider that the optimiser takes.
func (s *seating) pinRider(r *placement.Rider) {
	r.Pinned = s.pin(r.ID).GetGroup()
	if s.setAside(r.ID, pb.Override_GUARDIAN) { // a junior still has charge of nobody
		r.Junior, r.Guardian, r.MayLead, r.MayMarkBack = false, "", false, false
	}
	if s.setAside(r.ID, pb.Override_PARTY) {
		r.Party = ""
	}
}

// pinGroup puts what the leader has fixed of a group into the group that the optimiser takes; with its limits set aside
// only where limits is true.
func (s *seating) pinGroup(g *placement.Group, limits bool) {
	pin := s.groupPin(g.ID)
	if pin != nil && !pin.Runs {
		g.MinSize, g.MaxSize = 0, 0
		return
	}
	if !limits {
		return
	}
	for _, set := range s.limitsSetAside(g.ID) {
		switch set.Limit {
		case pb.Override_SIZE:
			g.MaxSize++
		case pb.Override_BACK_PLACES:
			g.BackPlaces++
		case pb.Override_LEAST:
			g.MinSize = 0
		case pb.Override_LEADER:
			g.LeaderWaived = true
		case pb.Override_BACK_MARKER:
			g.BackMarkerWaived = true
		}
	}
}

// limitsSetAside are the limits of a group that were set aside for its own pin and for pins of riders in it.
func (s *seating) limitsSetAside(group string) []*pb.Override {
	var sets []*pb.Override
	if pin := s.groupPin(group); pin.GetRuns() {
		sets = append(sets, pin.Overrides...)
	}
	for _, id := range s.order {
		if pin := s.pin(id); pin.GetGroup() == group {
			sets = append(sets, pin.Overrides...)
		}
	}
	return slices.DeleteFunc(sets, func(set *pb.Override) bool {
		return set.Limit == pb.Override_LIMIT_UNSPECIFIED || set.Limit == pb.Override_GUARDIAN || set.Limit == pb.Override_PARTY
	})
}

// wishes are the pins as demands: groups that run, in the ride's order, then riders, in the order of signing up.
func (s *seating) wishes() []placement.Constraint {
	var wishes []placement.Constraint
	for _, group := range s.in.Plan.Groups {
		if s.groupPin(group.Group).GetRuns() {
			wishes = append(wishes, placement.Constraint{Kind: placement.Runs, Group: group.Group})
		}
	}
	for _, id := range s.order {
		if s.pin(id) != nil {
			wishes = append(wishes, placement.Constraint{Kind: placement.Rides, Rider: id})
		}
	}
	return wishes
}

// solve places everybody so that all pins hold, or as many as can, the earlier first. Limits that were set aside are
// only where the pins do not hold within them. What was asked in the end is left in asked.
func (s *seating) solve(ctx context.Context) (placement.Result, error) {
	wishes := s.wishes()
	for _, limits := range []bool{false, true} {
		s.limits = limits
		plain := s.problem(limits)
		s.asked = placement.With(plain, wishes...)
		result, err := placement.Solve(ctx, s.asked)
		if err != nil || !result.Infeasible {
			return result, err
		}
	}
	return s.asManyAsCan(ctx, wishes)
}

// asManyAsCan places everybody with the wishes that can hold beside those before them.
func (s *seating) asManyAsCan(ctx context.Context, wishes []placement.Constraint) (placement.Result, error) {
	plain := s.problem(true)
	s.asked = plain
	best, err := placement.Solve(ctx, plain)
	var kept []placement.Constraint
	for _, wish := range wishes {
		if err != nil {
			return best, err
		}
		more := placement.With(plain, append(slices.Clone(kept), wish)...)
		var result placement.Result
		if result, err = placement.Solve(ctx, more); err == nil && !result.Infeasible {
			kept, best, s.asked = append(kept, wish), result, more
		}
	}
	return best, err
}

// runsPinned are the groups that the leader fixed to run.
func (s *seating) runsPinned() []string {
	var ids []string
	for _, group := range s.in.Plan.Groups {
		if s.groupPin(group.Group).GetRuns() {
			ids = append(ids, group.Group)
		}
	}
	return ids
}

// inUse are the rules and limits set aside that count in an answer.
func (s *seating) inUse(result placement.Result) []*pb.Override {
	var sets []*pb.Override
	rides := ridesIn(result)
	for _, group := range s.in.Plan.Groups {
		if pin := s.groupPin(group.Group); s.limits && pin.GetRuns() {
			sets = append(sets, pin.Overrides...)
		}
	}
	for _, id := range s.order {
		pin := s.pin(id)
		if pin == nil || rides[id] != pin.Group {
			continue
		}
		for _, set := range pin.Overrides {
			personal := set.Rule != "" || set.Limit == pb.Override_GUARDIAN || set.Limit == pb.Override_PARTY
			if (personal || s.limits) && s.counts(id, set) {
				sets = append(sets, set)
			}
		}
	}
	return sets
}

// ridesIn says who rides in which group of an answer.
func ridesIn(result placement.Result) map[string]string {
	rides := map[string]string{}
	for _, seat := range result.Seats() {
		rides[seat.Rider] = seat.Group
	}
	return rides
}

// fixed says of everything that the leader has fixed whether it holds, and why not. told are the conflicts of the answer,
// by rider and by group.
func (s *seating) fixed(result placement.Result, told map[string]string) []*pb.Fixed {
	runs, rides := map[string]bool{}, ridesIn(result)
	for _, group := range result.Groups {
		runs[group.ID] = group.Runs
	}
	var all []*pb.Fixed
	for _, group := range s.in.Plan.Groups {
		if pin := s.groupPin(group.Group); pin != nil {
			one := &pb.Fixed{Group: pin.Group, Title: group.Title, Runs: pin.Runs, Reason: pin.Reason, By: pin.By,
				Holds: runs[pin.Group] == pin.Runs}
			if !one.Holds {
				one.Why = told[pin.Group]
			}
			all = append(all, one)
		}
	}
	for _, id := range slices.Concat(s.order, s.barred, s.waiting) {
		pin := s.entrants[id].Signup.GetPin()
		if pin == nil {
			continue
		}
		one := &pb.Fixed{Member: s.entrants[id].Member.Name, DisplayName: s.name(id), Group: pin.Group,
			Title: title(s.titles, pin.Group), Runs: true, Reason: pin.Reason, By: pin.By, Holds: rides[id] == pin.Group}
		switch {
		case one.Holds:
		case s.pin(id) == nil:
			one.Why = "The group is no longer offered."
		case slices.Contains(s.barred, id):
			one.Why = barred(s.entrants[id])
		case slices.Contains(s.waiting, id):
			one.Why = "Waits for a place."
		default:
			one.Why = told[id]
		}
		all = append(all, one)
	}
	return all
}

// name is what the club calls a rider.
func (s *seating) name(id string) string { return s.entrants[id].Member.GetDisplayName() }

// title is what a group is called; its id where it is no longer offered.
func title(titles map[string]string, id string) string {
	if titles[id] != "" {
		return titles[id]
	}
	return id
}
