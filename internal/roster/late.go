package roster

import (
	"context"
	"fmt"
	"slices"

	pb "gritward/proto/gritward/v1"
)

// Late tells what it does when a ride starts late: in is the ride as it stands, late the same ride with its start, or that
// of a group, put back. Riders ride by the last issue; before the first as they would be placed now. Riders wait for the
// answer in the cold, so it only looks who would move, and not, as Place does, for why nothing else would do.
func Late(ctx context.Context, in Input, late *pb.Ride) (*pb.LateStart, error) {
	after := in
	var err error
	if after.Plan, err = Plan(late, in.Line, in.Policy, in.Now.Location(), in.Past); err != nil {
		return nil, err
	}
	after.Ride, after.Timelines = late, nil
	was, is := newSeating(in), newSeating(after)
	if in.Previous == nil {
		if is.previous, err = was.rides(ctx); err != nil {
			return nil, err
		}
		is.asked = is.problem(false)
	}
	anew, err := is.rides(ctx)
	if err != nil {
		return nil, err
	}
	told := &pb.LateStart{Issue: in.Previous.GetNumber(), CallOff: after.Plan.CallOff, Moved: is.lateMoves(anew)}
	for i, plan := range after.Plan.Groups {
		group := &pb.LateGroup{Group: plan.Group, Title: plan.Title, Before: lateTimes(in.Plan.Groups[i]), After: lateTimes(plan)}
		for _, id := range is.order {
			if is.previous[id] != plan.Group {
				continue
			}
			group.Riders++
			if rider := worse(was, is, id, plan.Group); rider != nil {
				group.Worse = append(group.Worse, rider)
			}
		}
		told.Groups = append(told.Groups, group)
	}
	return told, nil
}

// rides places everybody and gives the group of each who has one.
func (s *seating) rides(ctx context.Context) (map[string]string, error) {
	if err := s.sizes(); err != nil {
		return nil, err
	}
	result, err := s.solve(ctx)
	if err != nil {
		return nil, err
	}
	return ridesIn(result), nil
}

// lateMoves tells who would ride elsewhere than before, in the order of signing up, and why where that is the rider's own
// standing.
func (s *seating) lateMoves(anew map[string]string) (moves []*pb.Move) {
	for _, id := range s.order {
		from, to := s.previous[id], anew[id]
		if from == to {
			continue
		}
		move := &pb.Move{Member: s.memberName(id), DisplayName: s.name(id), From: from, FromTitle: s.titles[from], To: to, ToTitle: s.titles[to]}
		if from != "" && s.standing(id, from) == pb.Standing_HELD {
			move.Cause, move.Why = pb.Move_HELD, fmt.Sprintf("held in %s since %s", s.titles[from], holdWords(s.assessment(id, from)))
		}
		move.Words = moveWords(move)
		moves = append(moves, move)
	}
	return moves
}

func lateTimes(plan *pb.GroupPlan) *pb.LateTimes {
	return &pb.LateTimes{StartAt: plan.StartAt, HomeAt: plan.HomeAt, DarkMin: plan.DarkMin, LitMin: plan.LitMin}
}

// worse tells which rules cost a rider of a group more than before; nil where none does. Those set aside do not count.
func worse(was, is *seating, id, group string) *pb.LateRider {
	entrant := is.entrants[id]
	rider := &pb.LateRider{Member: entrant.Member.Name, DisplayName: entrant.Member.DisplayName,
		Before: was.standing(id, group), After: is.standing(id, group)}
	aside := is.rulesSetAside(id, group)
	before := was.assessment(id, group).GetFindings()
	for _, finding := range unmet(is.assessment(id, group).GetFindings()) {
		cost := pb.Standing_CLEAR // of a rule that did not apply
		if at := slices.IndexFunc(before, func(f *pb.Finding) bool { return f.Rule == finding.Rule }); at >= 0 {
			cost = before[at].Standing
		}
		if finding.Standing <= cost || aside[finding.Rule] {
			continue
		}
		rider.Findings = append(rider.Findings, finding)
		rider.Lights = rider.Lights || finding.Check == pb.Check_LIGHTS
	}
	if len(rider.Findings) == 0 {
		return nil
	}
	return rider
}
