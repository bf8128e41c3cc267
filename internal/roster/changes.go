package roster

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/brief"
	"gritward/internal/civil"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// changes says in words what differs from the issue before.
func changes(in Input, placed *pb.Placement) []string {
	if in.Previous == nil {
		return nil
	}
	said := rideChanges(in.Previous.Ride, in.Ride)
	if in.Previous.PolicyDigest != in.Policy.Digest() {
		said = append(said, fmt.Sprintf("The policy is now number %d.", in.PolicyNumber))
	}
	said = append(said, factorChanges(in.Previous.Plan, in.Plan)...)
	for _, move := range placed.Moved {
		said = append(said, move.Words)
	}
	return said
}

// factorChanges says of which groups past rides now make other times.
func factorChanges(before, after *pb.RidePlan) []string {
	factor := func(group *pb.GroupPlan) float64 {
		if past := group.PastTimes; past.GetUsed() {
			return past.TimeFactor
		}
		return 1
	}
	was := map[string]float64{}
	for _, group := range before.GetGroups() {
		was[group.Group] = factor(group)
	}
	var said []string
	for _, group := range after.GetGroups() {
		old, there := was[group.Group]
		if now := factor(group); there && slower(now) != slower(old) {
			said = append(said, fmt.Sprintf("By past rides %s is now reckoned %s; it was %s.", group.Title, slower(now), slower(old)))
		}
	}
	return said
}

// rideChanges says in words what differs between two states of a ride, as far as riders must know.
func rideChanges(before, after *pb.Ride) []string {
	var said []string
	if before.StartLocal != after.StartLocal {
		said = append(said, fmt.Sprintf("The start is now %s; it was %s.", when(after.StartLocal), when(before.StartLocal)))
	}
	if !proto.Equal(before.Route, after.Route) {
		said = append(said, fmt.Sprintf("There is a new route: %.1f km instead of %.1f km.",
			after.Route.GetDistanceM()/1000, before.Route.GetDistanceM()/1000))
	}
	if before.MeetingPoint != after.MeetingPoint {
		said = append(said, "The meeting point is now: "+after.MeetingPoint+".")
	}
	for _, part := range []struct {
		same bool
		said string
	}{
		{sameList(before.Groups, after.Groups), "The groups offered have changed."},
		{sameList(before.Stops, after.Stops), "The stops have changed."},
		{sameList(before.Hazards, after.Hazards) && sameList(before.WaysOut, after.WaysOut), "The hazards or ways out have changed."},
		{proto.Equal(before.Conditions, after.Conditions) && SameHours(before.Forecast, after.Forecast), "The weather expected has changed."},
		{before.LeaderPhone == after.LeaderPhone, "The ride leader's telephone number has changed."},
	} {
		if !part.same {
			said = append(said, part.said)
		}
	}
	return said
}

func sameList[M proto.Message](a, b []M) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !proto.Equal(a[i], b[i]) {
			return false
		}
	}
	return true
}

// when writes a civil time as people do.
func when(local string) string {
	at, err := time.Parse(civil.TimeLayout, local)
	if err != nil {
		return local
	}
	return at.Format("Monday 2 January 2006, 15:04")
}

// Since says in words what has changed since an issue was published and stands in none yet: of the ride, of who rides,
// and on which bike. entrants are those who have not withdrawn.
func Since(issue *pb.Roster, ride *pb.Ride, entrants []Entrant) []string {
	said := rideChanges(issue.Ride, ride)
	if ride.State == pb.Ride_CALLED_OFF && issue.Ride.State != pb.Ride_CALLED_OFF {
		said = append([]string{"The ride is called off: " + ride.CallOffReason}, said...)
	}
	bikes, shown := map[string]string{}, map[string]string{}
	var order []string
	note := func(member, name, bike string) {
		if _, seen := bikes[member]; !seen {
			order = append(order, member)
		}
		bikes[member], shown[member] = bike, name
	}
	for _, group := range issue.Placement.GetGroups() {
		for _, rider := range ridersOf(group) {
			note(rider.Member, rider.DisplayName, rider.Bike)
		}
	}
	for _, one := range issue.Placement.GetUnplaced() {
		note(one.Member, one.DisplayName, one.Bike)
	}
	still := map[string]bool{}
	for _, entrant := range entrants {
		member := entrant.Member.Name
		still[member] = true
		switch bike, there := bikes[member]; {
		case !there:
			said = append(said, entrant.Member.DisplayName+" has signed up.")
		case bike != entrant.Bike.Name:
			said = append(said, fmt.Sprintf("%s rides another bike: %s.",
				entrant.Member.DisplayName, entrant.Bike.GetDeclaration().GetFacts().GetTitle()))
		}
	}
	for _, member := range order {
		if !still[member] {
			said = append(said, shown[member]+" has withdrawn.")
		}
	}
	return said
}

// CalledOff makes the next issue of a roster whose ride is called off: the last one, with the reason at its head. The
// ride already carries the issue's number.
func CalledOff(last *pb.Roster, ride *pb.Ride, by string, now time.Time) (*pb.Roster, error) {
	issue := proto.Clone(last).(*pb.Roster)
	issue.Name = names.Roster(names.Part(ride.Name, "clubs"), names.Last(ride.Name), ride.RosterNumber)
	issue.Number, issue.PublishedAt, issue.PublishedBy = ride.RosterNumber, timestamppb.New(now), by
	issue.Ride.State, issue.Ride.CallOffReason, issue.Ride.RosterNumber = ride.State, ride.CallOffReason, ride.RosterNumber
	issue.Changes, issue.Since, issue.Digest = []string{"The ride is called off: " + ride.CallOffReason}, nil, ""
	issue.Brief = brief.Compose(issue)
	digest, err := digestOf(issue)
	issue.Digest = digest
	return issue, err
}
