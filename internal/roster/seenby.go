package roster

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/brief"
	pb "gritward/proto/gritward/v1"
)

// SeenBy is an issue as somebody sees it who may know all about some of its riders only: without what is wrong with the bikes
// of the others, and without who of them is a junior. Who rides where, with whom and at the back stays. The brief is composed
// anew from what is left. The issue itself is not changed; without anything to leave out it is given back as it is.
func SeenBy(issue *pb.Roster, may func(member string) bool) *pb.Roster {
	if !slices.ContainsFunc(peopleIn(issue), func(member string) bool { return !may(member) }) {
		return issue
	}
	seen := proto.CloneOf(issue)
	seen.Withheld = true
	placed := seen.Placement
	for _, group := range placed.GetGroups() {
		for _, rider := range ridersOf(group) {
			if !may(rider.Member) {
				rider.Findings, rider.Junior, rider.WishedWhy = nil, false, ""
			}
		}
		group.Notes = slices.DeleteFunc(group.Notes, ofFamilies)
		if group.StartLimit != nil {
			group.StartLimit = limitSeenBy(group.StartLimit, may)
		}
	}
	for _, one := range placed.GetUnplaced() {
		if !may(one.Member) {
			one.Findings = nil
			if !one.Waiting {
				one.Why = []string{leadersKnow}
			}
		}
	}
	for _, move := range placed.GetMoved() {
		if !may(move.Member) {
			withholdMove(seen, move)
		}
	}
	for _, fixed := range placed.GetFixed() {
		if fixed.Member != "" && !fixed.Holds && !may(fixed.Member) {
			fixed.Why = leadersKnow
		}
	}
	if placed != nil {
		placed.Overrides, placed.Conflicts = withheld(placed.Overrides, may), nil
	}
	seen.Brief = brief.Compose(seen)
	return seen
}

// ofFamilies tells whether a note on a group is about juniors and their guardians, as placement writes them.
func ofFamilies(note string) bool {
	return strings.Contains(note, "junior") || strings.Contains(note, "guardian")
}

// leadersKnow stands where a reason is left out.
const leadersKnow = "Why is told to the rider and the leaders."

// peopleIn are the members who ride or were to ride by an issue.
func peopleIn(issue *pb.Roster) (members []string) {
	for _, group := range issue.GetPlacement().GetGroups() {
		for _, rider := range ridersOf(group) {
			members = append(members, rider.Member)
		}
	}
	for _, one := range issue.GetPlacement().GetUnplaced() {
		members = append(members, one.Member)
	}
	for _, move := range issue.GetPlacement().GetMoved() {
		members = append(members, move.Member)
	}
	return members
}

// openCauses are the causes of moves that tell neither of a bike nor of a junior.
var openCauses = []pb.Move_Cause{
	pb.Move_NEW, pb.Move_GROUP_GONE, pb.Move_FIXED, pb.Move_ROLE, pb.Move_PACE, pb.Move_WISH, pb.Move_OTHERS,
}

// withholdMove leaves out why somebody moved, there and among the issue's changes.
func withholdMove(issue *pb.Roster, move *pb.Move) {
	if slices.Contains(openCauses, move.Cause) {
		return
	}
	before := move.Words
	move.Why = ""
	if move.Cause == pb.Move_WITHDREW {
		move.Why = "withdrew"
	} else {
		move.Cause = pb.Move_CAUSE_UNSPECIFIED
	}
	move.Words = moveWords(move)
	for i, change := range issue.Changes {
		if change == before {
			issue.Changes[i] = move.Words
		}
	}
}

// LimitsSeenBy are limits without who of others would stand worse: it tells of their lamps. The limits themselves are not changed.
func LimitsSeenBy(limits []*pb.StartLimit, may func(member string) bool) []*pb.StartLimit {
	seen := make([]*pb.StartLimit, len(limits))
	for i, limit := range limits {
		seen[i] = limitSeenBy(limit, may)
	}
	return seen
}

func limitSeenBy(limit *pb.StartLimit, may func(member string) bool) *pb.StartLimit {
	hidden := func(one *pb.Worsening) bool { return !may(one.Member) }
	if !slices.ContainsFunc(limit.GetWorse(), hidden) {
		return limit
	}
	limit = proto.CloneOf(limit)
	limit.Worse = slices.DeleteFunc(limit.Worse, hidden)
	return limit
}

// Withhold leaves out of a sign-up what is wrong with the bike.
func Withhold(signup *pb.Signup) {
	for _, standing := range signup.Standings {
		standing.Findings, standing.NotApplied = nil, nil
	}
	if signup.Pin != nil {
		signup.Pin.Overrides = withheld(signup.Pin.Overrides, func(string) bool { return false })
	}
}

// withheld are overrides without what they tell of bikes and juniors.
func withheld(overrides []*pb.Override, may func(member string) bool) (left []*pb.Override) {
	for _, set := range overrides {
		switch {
		case may(set.Member) || set.Rule == "" && set.Limit != pb.Override_GUARDIAN:
			left = append(left, set)
		case set.Rule != "":
			left = append(left, &pb.Override{Member: set.Member, Group: set.Group, By: set.By, At: set.At,
				What: "what the policy asks of the bike", Reason: leadersKnow})
		}
	}
	return left
}
