package roster

import (
	"fmt"
	"slices"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// rosterGroup tells a group that runs: its plan, its roles, and its riders in riding order.
func (s *seating) rosterGroup(plan *pb.GroupPlan, answer placement.GroupResult) *pb.RosterGroup {
	rows, notes := placement.Order(placement.OrderParams{
		Places: s.asked.Places(answer), Leader: answer.Leader, BackMarker: answer.BackMarker, SingleFile: s.in.Ride.SingleFile})
	group := &pb.RosterGroup{
		Group: plan.Group, Title: plan.Title, Plan: plan,
		Leader: s.memberName(answer.Leader), BackMarker: s.memberName(answer.BackMarker),
	}
	for _, offered := range s.in.Ride.Groups {
		if offered.Id == plan.Group {
			group.Notes = append(group.Notes, s.absent(offered)...)
		}
	}
	group.Notes = append(group.Notes, s.paceless(plan, answer)...)
	for _, note := range notes {
		group.Notes = append(group.Notes, s.say(note))
	}
	for _, row := range rows {
		group.Rows = append(group.Rows, &pb.Row{
			Left: s.seat(row.Left, plan, answer), Right: s.seat(row.Right, plan, answer)})
	}
	return group
}

// absent says who was named for a role in a group and has no place on the ride.
func (s *seating) absent(group *pb.Group) []string {
	var said []string
	for role, name := range map[string]string{"lead": group.Leader, "mark the back": group.BackMarker} {
		if name != "" && s.named(name) == "" {
			said = append(said, fmt.Sprintf("%s was named to %s and has no place on this ride.", names.Last(name), role))
		}
	}
	slices.Sort(said)
	return said
}

// paceless tells of whom in a group no pace is known: such riders can be placed in any, the fastest too, and somebody should
// ask them. Who leads or marks the back knows the group.
func (s *seating) paceless(plan *pb.GroupPlan, answer placement.GroupResult) []string {
	var who []string
	for _, id := range answer.Riders {
		if id != answer.Leader && id != answer.BackMarker && !s.paceKnown(id) {
			who = append(who, s.entrants[id].Member.DisplayName)
		}
	}
	if len(who) == 0 {
		return nil
	}
	slices.Sort(who)
	return []string{fmt.Sprintf("No pace is known of %s: ask before the start whether %s km/h suits.", phrase.List(who), phrase.Number(plan.PaceKmh, 1))}
}

func (s *seating) memberName(id string) string {
	if id == "" {
		return ""
	}
	return s.entrants[id].Member.Name
}

// seat tells one rider of a group; nil for an empty place.
func (s *seating) seat(id string, plan *pb.GroupPlan, answer placement.GroupResult) *pb.Rider {
	if id == "" {
		return nil
	}
	entrant, assessment := s.entrants[id], s.assessment(id, plan.Group)
	return &pb.Rider{
		Member: entrant.Member.Name, DisplayName: entrant.Member.DisplayName,
		Bike: entrant.Bike.Name, BikeTitle: entrant.Bike.GetDeclaration().GetFacts().GetTitle(),
		Standing: s.standing(id, plan.Group), Findings: unmet(assessment.Findings),
		Leads: id == answer.Leader, MarksBack: id == answer.BackMarker,
		PaceOffKmh: s.paceOff(id, plan.PaceKmh), Junior: entrant.Member.Junior,
		GuestOf: entrant.Host,
	}
}
