package roster

import (
	"strings"

	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// unplaced tells who has no place in a group and why: first those who could not be placed, then those who wait.
func (s *seating) unplaced(left []placement.Unplaced) []*pb.Unplaced {
	reasons := map[string][]placement.Reason{}
	for _, one := range left {
		reasons[one.Rider] = one.Reasons
	}
	var all []*pb.Unplaced
	for _, id := range s.order {
		why, without := reasons[id]
		if !without {
			continue
		}
		one := s.without(id)
		one.Why = s.reasons(id, why)
		one.Findings = s.holding(id)
		all = append(all, one)
	}
	for _, id := range s.barred {
		one := s.without(id)
		one.Why = []string{barred(s.entrants[id])}
		all = append(all, one)
	}
	for _, id := range s.waiting {
		one := s.without(id)
		one.Waiting, one.Why = true, []string{"All places were taken at sign-up; waits for one to come free."}
		all = append(all, one)
	}
	return all
}

func (s *seating) without(id string) *pb.Unplaced {
	entrant := s.entrants[id]
	return &pb.Unplaced{
		Member: entrant.Member.Name, DisplayName: entrant.Member.DisplayName,
		Bike: entrant.Bike.Name, BikeTitle: entrant.Bike.GetDeclaration().GetFacts().GetTitle(), GuestOf: entrant.Host,
	}
}

// reasons says why a rider is in no group: one line for each reason, with the groups that it keeps the rider out of, in
// the ride's order.
func (s *seating) reasons(id string, why []placement.Reason) []string {
	text := map[string]string{}
	for _, reason := range why {
		text[reason.Group] = s.reason(id, reason)
	}
	var lines, order []string
	groups := map[string][]string{}
	for _, group := range s.in.Plan.Groups {
		said, ok := text[group.Group]
		if !ok {
			continue
		}
		if len(groups[said]) == 0 {
			order = append(order, said)
		}
		groups[said] = append(groups[said], group.Title)
	}
	if whole := text[""]; whole != "" {
		lines = append(lines, whole)
	}
	for _, said := range order {
		lines = append(lines, strings.Join(groups[said], ", ")+": "+said)
	}
	return lines
}

// reason says why a rider is not in a group: for a held bike by which rules.
func (s *seating) reason(id string, reason placement.Reason) string {
	if s.standing(id, reason.Group) != pb.Standing_HELD {
		return s.say(reason.Text)
	}
	var rules []string
	for _, finding := range unmet(s.assessment(id, reason.Group).GetFindings()) {
		if finding.Standing == pb.Standing_HELD {
			rules = append(rules, finding.Rule)
		}
	}
	return "held by " + strings.Join(rules, ", ")
}

// holding gives the findings that hold a bike, each rule once: from the group in which they are fewest.
func (s *seating) holding(id string) []*pb.Finding {
	var least []*pb.Finding
	for _, group := range s.in.Plan.Groups {
		var held []*pb.Finding
		for _, finding := range unmet(s.assessment(id, group.Group).GetFindings()) {
			if finding.Standing == pb.Standing_HELD {
				held = append(held, finding)
			}
		}
		if len(held) > 0 && (least == nil || len(held) < len(least)) {
			least = held
		}
	}
	return least
}
