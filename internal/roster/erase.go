package roster

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/brief"
	pb "gritward/proto/gritward/v1"
)

// Erased is who is taken out of rosters.
type Erased struct {
	// Member is the resource name, which stays, and Name the name shown to the club, which does not.
	Member, Name string
	// Stands is what is written in the place of the name.
	Stands string
}

// Erase takes out of an issue what it tells of a member: the name, the bike, what was found on it, wishes and reasons. The
// rider keeps the place, so that who was there can be counted; number and date stay. What is left is composed and signed
// anew, and says that it was altered and when. It tells whether there was anything to take out.
func Erase(issue *pb.Roster, who Erased, now time.Time, zone *time.Location) (bool, error) {
	before := proto.CloneOf(issue)
	said := []string{who.Name} // names that the issue has for the member: they may have been others then
	for _, group := range issue.GetPlacement().GetGroups() {
		for _, rider := range ridersOf(group) {
			if rider.Member == who.Member {
				said = append(said, rider.DisplayName)
				stripRider(rider, who)
			}
		}
		dropWorse(group.StartLimit, who)
	}
	for _, limit := range issue.GetPlan().GetStartLimits() {
		dropWorse(limit, who)
	}
	said = append(said, stripPlacement(issue.GetPlacement(), who)...)
	if ride := issue.GetRide(); ride != nil {
		if ride.Leader == who.Member {
			said = append(said, issue.LeaderName)
			issue.LeaderName, ride.LeaderPhone = who.Stands, ""
		}
		StripRide(ride, who.Member)
	}
	out := func(name string) bool { return name == "" || name == who.Stands }
	said = slices.DeleteFunc(said, out)
	issue.Changes = retold(issue.Changes, said)
	for _, name := range said {
		ReplaceName(issue, name, who.Stands)
	}
	if proto.Equal(before, issue) {
		return false, nil
	}
	const altered = "What this issue told of a former member was taken out on "
	issue.Changes = slices.DeleteFunc(issue.Changes, func(line string) bool { return strings.HasPrefix(line, altered) })
	issue.Changes = append(issue.Changes, fmt.Sprintf("%s%s.", altered, now.In(zone).Format("Monday 2 January 2006")))
	issue.ErasedAt, issue.Since, issue.Digest = timestamppb.New(now), nil, ""
	if issue.Brief != nil {
		issue.Brief = nil
		issue.Brief = brief.Compose(issue)
	}
	digest, err := digestOf(issue)
	issue.Digest = digest
	return true, err
}

func stripRider(rider *pb.Rider, who Erased) {
	leads, marks := rider.Leads, rider.MarksBack
	proto.Reset(rider)
	rider.Member, rider.DisplayName, rider.Leads, rider.MarksBack = who.Member, who.Stands, leads, marks
}

func dropWorse(limit *pb.StartLimit, who Erased) {
	if limit == nil {
		return
	}
	limit.Worse = slices.DeleteFunc(limit.Worse, func(one *pb.Worsening) bool { return one.Member == who.Member })
}

// stripPlacement takes the member out of what a placement tells beside its groups, and gives the names that it had.
func stripPlacement(placed *pb.Placement, who Erased) (said []string) {
	if placed == nil {
		return nil
	}
	for _, one := range placed.Unplaced {
		if one.Member == who.Member {
			said = append(said, one.DisplayName)
			waiting := one.Waiting
			proto.Reset(one)
			one.Member, one.DisplayName, one.Waiting = who.Member, who.Stands, waiting
		}
	}
	for _, fixed := range placed.Fixed {
		if fixed.Member == who.Member {
			said = append(said, fixed.DisplayName)
			fixed.DisplayName, fixed.Reason, fixed.Why = who.Stands, "", ""
		}
	}
	for _, move := range placed.Moved {
		if move.Member == who.Member {
			said = append(said, move.DisplayName)
			move.DisplayName, move.Cause, move.Why = who.Stands, pb.Move_CAUSE_UNSPECIFIED, ""
			move.Words = moveWords(move)
		}
	}
	placed.Overrides = slices.DeleteFunc(placed.Overrides, func(set *pb.Override) bool { return set.Member == who.Member })
	for _, conflict := range placed.Conflicts {
		conflict.Constraints = retold(conflict.Constraints, append(said, who.Name))
	}
	return said
}

// retold is a list of sentences in which those that name somebody are told without what they say.
func retold(lines, said []string) []string {
	for i, line := range lines {
		if slices.ContainsFunc(said, func(name string) bool { return name != "" && strings.Contains(line, name) }) {
			lines[i] = "Something about a former member."
		}
	}
	return slices.Compact(lines)
}

// StripRide takes out of a ride what was set aside for a member, and tells whether there was anything.
func StripRide(ride *pb.Ride, member string) (changed bool) {
	for _, pin := range ride.GroupPins {
		count := len(pin.Overrides)
		pin.Overrides = slices.DeleteFunc(pin.Overrides, func(set *pb.Override) bool { return set.Member == member })
		changed = changed || count != len(pin.Overrides)
	}
	return changed
}
