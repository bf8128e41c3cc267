package season

import (
	"strings"
	"unicode"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// standings counts the riders of an issue by standing: who is placed by that in the group, who is not for a bike that is
// held as held. Who has no place for another reason stands nowhere.
func standings(placement *pb.Placement) *pb.StandingCount {
	count := &pb.StandingCount{}
	eachRider(placement, func(rider *pb.Rider) {
		switch rider.Standing {
		case pb.Standing_CLEAR:
			count.Clear++
		case pb.Standing_ADVISED:
			count.Advised++
		case pb.Standing_BACK:
			count.Back++
		case pb.Standing_HELD: // set aside by the leader, and placed
			count.Held++
		}
	})
	for _, one := range placement.GetUnplaced() {
		if holds(one) {
			count.Held++
		}
	}
	return count
}

// holds tells whether a rider without a place has a bike that is held.
func holds(one *pb.Unplaced) bool {
	for _, finding := range one.Findings {
		if finding.Standing == pb.Standing_HELD {
			return true
		}
	}
	return false
}

func eachRider(placement *pb.Placement, visit func(*pb.Rider)) {
	for _, group := range placement.GetGroups() {
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider != nil {
					visit(rider)
				}
			}
		}
	}
}

// placed counts what the newest issue of a ride says.
func (r *Reckoning) placed(ride *pb.SeasonRide, issue *pb.Roster, times []*pb.RecordedTime) {
	placement := issue.GetPlacement()
	ride.Placed, ride.Unplaced = placement.GetPlaced(), int32(len(placement.GetUnplaced()))
	ride.Wishes, ride.WishesMet = placement.GetWishes(), placement.GetPreferencesMet()
	ride.GroupsIdle = int32(len(placement.GetIdle()))
	ride.Wet = proto.Bool(false)
	for _, group := range placement.GetGroups() {
		for _, circumstance := range group.GetPlan().GetCircumstances() {
			if circumstance == pb.Circumstance_WET {
				ride.Wet = proto.Bool(true)
			}
		}
		ride.Groups = append(ride.Groups, groupOf(group, times))
	}
	eachRider(placement, func(rider *pb.Rider) { r.found(rider.Findings) })
	for _, one := range placement.GetUnplaced() {
		r.found(one.Findings)
	}
}

// groupOf is a group with its light and its times.
func groupOf(group *pb.RosterGroup, times []*pb.RecordedTime) *pb.SeasonGroup {
	plan := group.GetPlan()
	found := &pb.SeasonGroup{Group: group.Group, Title: group.Title, LitMin: plan.GetLitMin(), DarkMin: plan.GetDarkMin()}
	if plan != nil {
		found.MarginMin = plan.MarginMin
	}
	for _, row := range group.Rows {
		if row.Left != nil {
			found.Riders++
		}
		if row.Right != nil {
			found.Riders++
		}
	}
	for _, time := range times {
		if time.Group == group.Group {
			found.PlannedMin, found.TookMin = proto.Float64(time.PlannedMin), proto.Float64(time.TookMin)
		}
	}
	return found
}

// found counts the findings of a rider, each rule and each remedy once.
func (r *Reckoning) found(findings []*pb.Finding) {
	rules, remedies := map[string]*pb.Finding{}, map[string]bool{}
	for _, finding := range findings {
		if finding.Standing <= pb.Standing_CLEAR {
			continue
		}
		if worst := rules[finding.Rule]; worst == nil || finding.Standing > worst.Standing {
			rules[finding.Rule] = finding
		}
		if words := withoutNumbers(finding.Remedy); words != "" {
			remedies[words] = true
		}
	}
	for _, finding := range rules {
		r.rule(finding)
	}
	for words := range remedies {
		count := r.remedies[words]
		if count == nil {
			count = &pb.RemedyCount{Remedy: words}
			r.remedies[words] = count
		}
		count.Times++
		r.report.Totals.Remedies++
	}
}

func (r *Reckoning) rule(finding *pb.Finding) {
	count := r.rules[finding.Rule]
	if count == nil {
		count = &pb.RuleCount{Rule: finding.Rule, Check: finding.Check}
		r.rules[finding.Rule] = count
	}
	count.Times++
	switch finding.Standing {
	case pb.Standing_HELD:
		count.Held++
	case pb.Standing_BACK:
		count.Back++
	case pb.Standing_ADVISED:
		count.Advised++
	}
	if finding.NotDeclared {
		count.NotDeclared++
	}
}

// withoutNumbers puts "…" in the place of each number, so that the same work asked of two bikes counts as one: "for 205 min"
// and "for 190 min" are both "for … min".
func withoutNumbers(text string) string {
	var b strings.Builder
	in := false
	for i, r := range text {
		digit := unicode.IsDigit(r)
		inside := in && (r == '.' || r == ',' || r == ':') && i+1 < len(text) && text[i+1] >= '0' && text[i+1] <= '9'
		switch {
		case digit && !in:
			b.WriteRune('…')
		case digit, inside:
		default:
			b.WriteRune(r)
		}
		in = digit || inside
	}
	return b.String()
}
