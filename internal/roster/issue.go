package roster

import (
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
	bare.Digest, bare.Since, bare.PageUrl = "", nil, ""
	digest, err := digestOf(bare)
	return digest == issue.Digest, err
}
