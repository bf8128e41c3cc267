package roster

import (
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/brief"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// Issue makes the next issue of a ride's roster from a placement; the ride already carries the issue's number.
func Issue(in Input, placed *pb.Placement, publishedBy string) (*pb.Roster, error) {
	ride := proto.Clone(in.Ride).(*pb.Ride)
	club, id := names.Part(ride.Name, "clubs"), names.Last(ride.Name)
	issue := &pb.Roster{
		Name: names.Roster(club, id, ride.RosterNumber), Number: ride.RosterNumber,
		PublishedAt: timestamppb.New(in.Now), PublishedBy: publishedBy,
		PolicyDigest: in.Policy.Digest(), PolicyNumber: in.PolicyNumber, PolicyTitle: in.Policy.Title(),
		Ride: ride, ClubTitle: in.Club.Title, Zone: in.Club.Zone, LeaderName: in.LeaderName,
		Plan: in.Plan, Placement: placed, Changes: changes(in, placed),
	}
	issue.Brief = brief.Compose(issue)
	digest, err := digestOf(issue)
	issue.Digest = digest
	return issue, err
}

// Intact tells whether an issue is as it was published.
func Intact(issue *pb.Roster) (bool, error) {
	bare := proto.Clone(issue).(*pb.Roster)
	bare.Digest, bare.Since = "", nil
	digest, err := digestOf(bare)
	return digest == issue.Digest, err
}

// moved says who came, went, or changed group since the issue before.
func moved(in Input, placed *pb.Placement) []string {
	titles := map[string]string{}
	for _, group := range in.Plan.Groups {
		titles[group.Group] = group.Title
	}
	display := map[string]string{}
	was, is := groupsOf(in.Previous), groupsOf(&pb.Roster{Placement: placed})
	var order []string
	for _, placement := range []*pb.Placement{in.Previous.Placement, placed} {
		for _, group := range placement.GetGroups() {
			for _, rider := range ridersOf(group) {
				id := riderID(rider.Member)
				if _, seen := display[id]; !seen {
					order = append(order, id)
				}
				display[id] = rider.DisplayName
			}
		}
	}
	var said []string
	for _, id := range order {
		from, rode := was[id]
		to, rides := is[id]
		switch {
		case rode && !rides:
			said = append(said, fmt.Sprintf("%s no longer rides.", display[id]))
		case !rode && rides:
			said = append(said, fmt.Sprintf("%s now rides in %s.", display[id], titles[to]))
		case from != to:
			said = append(said, fmt.Sprintf("%s moves from %s to %s.", display[id], title(titles, from), title(titles, to)))
		}
	}
	return said
}

func title(titles map[string]string, id string) string {
	if titles[id] != "" {
		return titles[id]
	}
	return id
}
