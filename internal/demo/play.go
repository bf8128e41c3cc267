// Package demo plays an invented club through a Sunday in December, over the wire like anybody else: members are
// invited, declare their bikes, and join; the leader places the riders and publishes the roster. A few rides in November
// come before, so that it is known how long two of the groups take.
package demo

import (
	"context"
	"fmt"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	policyfile "gritward/policy"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// The demo's days: when the stale declaration was certified, and the Friday evening on which the rest happens.
var (
	autumn = time.Date(2026, time.November, 1, 19, 0, 0, 0, time.UTC)
	friday = time.Date(2026, time.December, 11, 19, 0, 0, 0, time.UTC)
)

// Clock is the demo's clock: it stands at a day of the story and goes on from there as the real one does.
type Clock struct {
	mu    sync.Mutex
	story time.Time
	real  time.Time
}

// NewClock gives a clock that stands at the beginning of the story.
func NewClock() *Clock { return &Clock{story: autumn, real: time.Now()} }

// Now is the time in the story.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.story.Add(time.Since(c.real))
}

// TurnTo sets the time in the story.
func (c *Clock) TurnTo(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.story, c.real = at, time.Now()
}

// Story is what came of it.
type Story struct {
	Issue *pb.Roster
	// Ride, and tokens by the name of the member.
	Ride   *pb.Ride
	Tokens map[string]string
	// Names are the members' records, by the name of the member.
	Names map[string]string
	// Why says why a rider does not ride in the group that she wished for: her rear lamp does not last there.
	Why *pb.Explanation
	// Members and Bikes count what was played.
	Members, Bikes int
}

// The members whose tokens are handed out for trying the client.
const (
	Secretary = "Imke Vard"
	Leader    = "Osric Penhale"
	Member    = "Hetty Marlock"
)

// player holds what a play goes on with.
type player struct {
	clubs    pb.ClubServiceClient
	bikes    pb.BikeServiceClient
	policies pb.PolicyServiceClient
	rides    pb.RideServiceClient
	rolls    pb.RollCallServiceClient
	clock    *Clock
	tokens   map[string]string
	members  map[string]string // resource names by the name
	count    int
}

// MemberIDs draws the ids of the demo's members: the same ones each time, since the order of ids breaks ties.
func MemberIDs() func() string {
	next := 0
	return func() string {
		next++
		return fmt.Sprintf("mrrwdk%d%d", 2+next/8, 2+next%8)
	}
}

// Play founds the club in the ledger and plays the story over the connection.
func Play(ctx context.Context, l *ledger.Ledger, conn grpc.ClientConnInterface, clock *Clock) (*Story, error) {
	p := &player{
		clubs: pb.NewClubServiceClient(conn), bikes: pb.NewBikeServiceClient(conn),
		policies: pb.NewPolicyServiceClient(conn), rides: pb.NewRideServiceClient(conn),
		rolls: pb.NewRollCallServiceClient(conn),
		clock: clock, tokens: map[string]string{}, members: map[string]string{},
	}
	club := &pb.Club{Title: clubTitle, Zone: clubZone, LatitudeDeg: 54.085, LongitudeDeg: -2.285}
	code, err := server.Found(ctx, l, clubID, club, Secretary)
	if err != nil {
		return nil, err
	}
	if _, err := p.accept(ctx, code); err != nil {
		return nil, err
	}
	all := people()
	if err := p.invite(ctx, all); err != nil {
		return nil, err
	}
	if _, err := p.policies.AdoptPolicy(p.as(ctx, Secretary), &pb.AdoptPolicyRequest{
		Parent: names.Club(clubID), File: "winter.yaml", Content: policyfile.Winter, Note: "first winter with a policy"}); err != nil {
		return nil, fmt.Errorf("adopting the policy: %w", err)
	}
	if err := p.declare(ctx, all, true); err != nil {
		return nil, err
	}
	if err := p.november(ctx, all); err != nil {
		return nil, err
	}
	clock.TurnTo(friday)
	if err := p.declare(ctx, all, false); err != nil {
		return nil, err
	}
	ride, err := p.rides.CreateRide(p.as(ctx, Leader), &pb.CreateRideRequest{
		Parent: names.Club(clubID), Ride: sunday(p.members[Leader]), RouteGpx: Route})
	if err != nil {
		return nil, fmt.Errorf("creating the ride: %w", err)
	}
	if err := p.join(ctx, all, ride.Name); err != nil {
		return nil, err
	}
	if _, err := p.rides.PinRider(p.as(ctx, Leader), &pb.PinRiderRequest{Parent: ride.Name, Member: p.members["Jun Okare"],
		Group: "steady", Reason: "back from an injury, and asked for a gentle day"}); err != nil {
		return nil, fmt.Errorf("fixing a rider in a group: %w", err)
	}
	issue, err := p.publish(ctx, ride.Name)
	if err != nil {
		return nil, err
	}
	why, err := p.rides.ExplainPlace(p.as(ctx, Member), &pb.ExplainPlaceRequest{Name: ride.Name + "/signups/" + names.Last(p.members[Member])})
	if err != nil {
		return nil, err
	}
	return &Story{Issue: issue, Ride: issue.Ride, Tokens: p.tokens, Names: p.members, Why: why, Members: len(all), Bikes: p.count}, nil
}

// as puts a member's token into the context.
func (p *player) as(ctx context.Context, name string) context.Context {
	return metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+p.tokens[name])
}

// bikeOf is the resource name of a member's bike, counted from 1: it was the first, or the second, to be declared.
func (p *player) bikeOf(name string, number int) string {
	return fmt.Sprintf("%s/bikes/bike-%d", p.members[name], number)
}

// accept uses an invite and keeps the token.
func (p *player) accept(ctx context.Context, code string) (*pb.Member, error) {
	let, err := p.clubs.AcceptInvite(ctx, &pb.AcceptInviteRequest{Code: code, DeviceTitle: "demo"})
	if err != nil {
		return nil, fmt.Errorf("accepting an invite: %w", err)
	}
	p.tokens[let.Member.DisplayName], p.members[let.Member.DisplayName] = let.Token, let.Member.Name
	return let.Member, nil
}

// invite invites everybody but the secretary, who is there, and says of each what they may do.
func (p *player) invite(ctx context.Context, all []person) error {
	for _, one := range all[1:] {
		invite := &pb.Invite{DisplayName: one.name}
		if one.leader {
			invite.Roles = []pb.Role{pb.Role_LEADER}
		}
		made, err := p.clubs.CreateInvite(p.as(ctx, Secretary), &pb.CreateInviteRequest{Parent: names.Club(clubID), Invite: invite})
		if err != nil {
			return fmt.Errorf("inviting %s: %w", one.name, err)
		}
		if _, err := p.accept(ctx, made.Code); err != nil {
			return err
		}
	}
	for _, one := range all {
		member := &pb.Member{
			Name: p.members[one.name], PaceMinKmh: one.paceMin, PaceMaxKmh: one.paceMax,
			MayLead: one.leads, MayMarkBack: one.marks, Junior: one.guardian != "",
		}
		if one.guardian != "" {
			member.Guardian = p.members[one.guardian]
		}
		mask := []string{"pace_min_kmh", "pace_max_kmh", "may_lead", "may_mark_back", "junior", "guardian"}
		if _, err := p.clubs.UpdateMember(p.as(ctx, Secretary), &pb.UpdateMemberRequest{
			Member: member, UpdateMask: &fieldmaskpb.FieldMask{Paths: mask}}); err != nil {
			return fmt.Errorf("setting up %s: %w", one.name, err)
		}
	}
	return nil
}

// declare certifies the bikes of those who do it early, or of the others.
func (p *player) declare(ctx context.Context, all []person, early bool) error {
	for _, one := range all {
		if one.stale != early {
			continue
		}
		for _, facts := range one.bikes {
			if _, err := p.bikes.DeclareBike(p.as(ctx, one.name), &pb.DeclareBikeRequest{
				Parent: p.members[one.name], Facts: facts}); err != nil {
				return fmt.Errorf("declaring %s of %s: %w", facts.Title, one.name, err)
			}
			p.count++
		}
	}
	return nil
}

// join signs everybody up who comes on Sunday.
func (p *player) join(ctx context.Context, all []person, ride string) error {
	for _, one := range all {
		if one.joins == 0 {
			continue
		}
		if _, err := p.rides.JoinRide(p.as(ctx, one.name), &pb.JoinRideRequest{Parent: ride, Signup: &pb.Signup{
			Member: p.members[one.name], Bike: p.bikeOf(one.name, one.joins),
			PreferredGroup: one.prefer, Party: one.party,
		}}); err != nil {
			return fmt.Errorf("signing up %s: %w", one.name, err)
		}
	}
	return nil
}

// publish places the riders, looks at the placement, and publishes it.
func (p *player) publish(ctx context.Context, ride string) (*pb.Roster, error) {
	leader := p.as(ctx, Leader)
	placement, err := p.rides.PlaceRide(leader, &pb.PlaceRideRequest{Name: ride})
	if err != nil {
		return nil, fmt.Errorf("placing the riders: %w", err)
	}
	issue, err := p.rides.PublishRoster(leader, &pb.PublishRosterRequest{Parent: ride, Basis: placement.Basis})
	if err != nil {
		return nil, fmt.Errorf("publishing the roster: %w", err)
	}
	return issue, nil
}
