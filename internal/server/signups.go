package server

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// JoinRide implements RideService.
func (s *rideService) JoinRide(ctx context.Context, request *pb.JoinRideRequest) (*pb.Signup, error) {
	who := callerOf(ctx)
	ride, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	asked := request.Signup
	member, err := names.In(who.club, "signup.member", asked.Member, names.MemberShape)
	if err != nil {
		return nil, err
	}
	bike, err := names.In(who.club, "signup.bike", asked.Bike, names.BikeShape)
	if err != nil {
		return nil, err
	}
	if bike[1] != member[1] {
		return nil, fault.Invalid("signup.bike", "is a bike of %s; a member rides a bike of their own", bike[1])
	}
	var told *stood
	repeated := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "JoinRide", Message: request}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(repeated)
		if err != nil {
			return err
		}
		if made != "" {
			signup, err := tx.Signup(ride[1], member[1])
			if err == nil {
				told, err = s.stood(tx, ride[1], signup)
			}
			return err
		}
		if told, err = s.join(tx, who, ride[1], member[1], bike[2], request); err != nil {
			return err
		}
		return tx.Answer(repeated, told.signup.Name)
	})
	if err != nil {
		return nil, err
	}
	return told.standings(), nil
}

// join signs a member up. What stands already is not written again.
func (s *rideService) join(tx *ledger.Tx, who *caller, id, member, bike string, request *pb.JoinRideRequest) (*stood, error) {
	if request.NoneKnown {
		before, err := tx.PeekSignup(id, member)
		if err != nil {
			return nil, err
		}
		if before != nil && before.State != pb.Signup_WITHDRAWN {
			return nil, ledger.MadeMeanwhile(before.Name)
		}
	}
	signup, changed, err := s.enter(tx, who, id, member, bike, request.Signup)
	if err != nil {
		return nil, err
	}
	if changed {
		if err := tx.Append(audit(who, "RideService/JoinRide", signup.Name, "signed up")); err != nil {
			return nil, err
		}
	}
	return s.stood(tx, id, signup)
}

// enter writes a sign-up, new or changed, and tells whether it differs from what stood.
func (s *rideService) enter(tx *ledger.Tx, who *caller, id, member, bike string, asked *pb.Signup) (signup *pb.Signup, changed bool, err error) {
	ride, err := tx.PeekRide(id)
	if err != nil {
		return nil, false, err
	}
	if err := mayEnter(tx, member, ride); err != nil {
		return nil, false, err
	}
	ridden, err := tx.PeekBike(member, bike)
	if err != nil {
		return nil, false, err
	}
	if ridden.RetiredAt != nil {
		return nil, false, fault.New(pb.Reason_WRONG_STATE, "%s is retired; sign up with another bike", ridden.Name)
	}
	if err := offered("signup.preferred_group", ride, asked.PreferredGroup); err != nil {
		return nil, false, err
	}
	before, err := tx.PeekSignup(id, member)
	if err != nil {
		return nil, false, err
	}
	switch {
	case before == nil || before.State == pb.Signup_WITHDRAWN:
		if err := s.openForSignup(tx, who, ride); err != nil {
			return nil, false, err
		}
		if err := ledger.Unchanged(asked.Etag, before, names.Signup(tx.Club, id, member)); err != nil { // who changes one that is withdrawn is told so
			return nil, false, err
		}
		if signup, err = fresh(tx, ride, member); err != nil {
			return nil, false, err
		}
	default:
		if err := s.entriesOpen(tx, who, ride); err != nil {
			return nil, false, err
		}
		if err := ledger.Unchanged(asked.Etag, before, before.Name); err != nil {
			return nil, false, err
		}
		signup = proto.CloneOf(before)
		if err := s.turnedUp(tx, who, ride, signup); err != nil {
			return nil, false, err
		}
	}
	if pin := signup.Pin; pin != nil && signup.Bike != ridden.Name { // its rules were set aside for the other bike
		pin.Overrides = slices.DeleteFunc(pin.Overrides, func(set *pb.Override) bool { return set.Rule != "" })
	}
	signup.Member, signup.Bike = names.Member(tx.Club, member), ridden.Name
	signup.PreferredGroup, signup.Party = asked.PreferredGroup, strings.TrimSpace(asked.Party)
	signup.WillLead, signup.WillMarkBack = asked.WillLead, asked.WillMarkBack
	if proto.Equal(before, signup) {
		return signup, false, nil
	}
	return signup, true, tx.SaveSignup(signup)
}

// mayEnter refuses to sign up a suspended member, and a guest of another ride.
func mayEnter(tx *ledger.Tx, id string, ride *pb.Ride) error {
	member, err := tx.PeekMember(id)
	switch {
	case err != nil:
		return err
	case member.SuspendedAt != nil:
		return fault.New(pb.Reason_WRONG_STATE, "%s is suspended", member.DisplayName)
	case isGuest(member) && member.Ride != ride.Name:
		return fault.New(pb.Reason_WRONG_STATE, "%s is a guest of another ride; invite the guest to this one", member.DisplayName)
	}
	return nil
}

// stood is a sign-up with all that its standings rest on, as one transaction found it: they are told after it, so that
// nobody waits for that who writes.
type stood struct {
	ground  *ground
	signup  *pb.Signup
	entrant roster.Entrant
}

// stood gathers what is computed for a sign-up: name, how many wait before it, and what its standings rest on.
func (s *rideService) stood(tx *ledger.Tx, ride string, signup *pb.Signup) (told *stood, err error) {
	told = &stood{signup: signup}
	if told.ground, err = s.ground(tx, ride); err != nil {
		return nil, err
	}
	if told.entrant, err = entrantOf(tx, signup); err != nil {
		return nil, err
	}
	signup.DisplayName, signup.GuestOf = told.entrant.Member.DisplayName, told.entrant.Host
	if signup.State != pb.Signup_WAITING {
		return told, nil
	}
	return told, tx.Signups(ride, func(other *pb.Signup) error {
		if other.State == pb.Signup_WAITING && other.Turn < signup.Turn {
			signup.WaitingBefore++
		}
		return nil
	})
}

// standings is the sign-up with its standings.
func (t *stood) standings() *pb.Signup {
	t.signup.Standings = roster.Unmet(t.ground.book, t.entrant.Subject(), t.ground.plan, t.ground.now)
	return t.signup
}

// maxSignups is how many can sign up for one ride, those who wait included.
const maxSignups = 1000

// fresh makes a new sign-up, last in the order of signing up: with a place, or waiting when all are taken.
func fresh(tx *ledger.Tx, ride *pb.Ride, member string) (*pb.Signup, error) {
	tally, err := tx.Tally(names.Last(ride.Name))
	if err != nil {
		return nil, err
	}
	if tally.Entered >= maxSignups {
		return nil, fault.New(pb.Reason_WRONG_STATE, "the ride is full: %d have signed up", maxSignups)
	}
	free, err := freePlaces(tx, ride)
	state := pb.Signup_IN
	if free <= 0 {
		state = pb.Signup_WAITING
	}
	return &pb.Signup{Name: ride.Name + "/signups/" + member, State: state, Turn: tally.LastTurn + 1, CreatedAt: tx.Stamp()}, err
}

// freePlaces counts the places of a ride that nobody has who came; below 0 where more have one than there are.
func freePlaces(tx *ledger.Tx, ride *pb.Ride) (int, error) {
	if ride.Places == 0 {
		return maxSignups, nil
	}
	id := names.Last(ride.Name)
	tally, err := tx.Tally(id)
	if err != nil {
		return 0, err
	}
	away, err := absent(tx, id)
	if err != nil {
		return 0, err
	}
	free := int(ride.Places - tally.In)
	for member := range away {
		signup, err := tx.FindSignup(id, names.Last(member))
		if err != nil {
			return 0, err
		}
		if signup.GetState() == pb.Signup_IN {
			free++
		}
	}
	return free, nil
}

// signsUpOthers tells whether the caller may sign up others, and outside the time for it.
func signsUpOthers(who *caller, ride *pb.Ride) bool {
	return ride.Leader == who.member.Name || who.has(pb.Role_SECRETARY)
}

// turnedUp gives a free place, past the planned start, to who waited for one and is signed up again by the leader: the one
// who stands there, and not the one at home who waited longest.
func (s *rideService) turnedUp(tx *ledger.Tx, who *caller, ride *pb.Ride, signup *pb.Signup) error {
	if signup.State != pb.Signup_WAITING || !gathering(tx, ride) || !signsUpOthers(who, ride) {
		return nil
	}
	free, err := freePlaces(tx, ride)
	if free > 0 {
		signup.State = pb.Signup_IN
	}
	return err
}

// openForSignup refuses a sign-up for a ride that is over, and one before sign-up opens or after it closes from anybody but
// the ride's leader and secretaries.
func (s *rideService) openForSignup(tx *ledger.Tx, who *caller, ride *pb.Ride) error {
	if err := s.entriesOpen(tx, who, ride); err != nil {
		return err
	}
	if signsUpOthers(who, ride) {
		return nil
	}
	_, zone, err := s.zone(tx)
	if err != nil {
		return err
	}
	if opens := ride.SignupOpensAt; opens != nil && tx.Now.Before(opens.AsTime()) {
		return fault.New(pb.Reason_SIGNUP_CLOSED, "sign-up for the ride opens at %s", opens.AsTime().In(zone).Format(civil.TimeLayout))
	}
	closes := plannedStart(ride)
	if at := ride.SignupClosesAt; at != nil {
		closes = at.AsTime()
	}
	if !tx.Now.Before(closes) {
		return fault.New(pb.Reason_SIGNUP_CLOSED, "sign-up for the ride closed at %s; ask its leader", closes.In(zone).Format(civil.TimeLayout))
	}
	return nil
}

// offered refuses a group that the ride does not have.
func offered(path string, ride *pb.Ride, group string) error {
	if group == "" {
		return nil
	}
	var ids []string
	for _, g := range ride.Groups {
		ids = append(ids, g.Id)
	}
	if slices.Contains(ids, group) {
		return nil
	}
	return fault.Invalid(path, "there is no group %q; there is %s", group, strings.Join(ids, ", "))
}

// WithdrawSignup implements RideService.
func (s *rideService) WithdrawSignup(ctx context.Context, request *pb.WithdrawSignupRequest) (signup *pb.Signup, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.SignupShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.PeekRide(ids[1])
		if err != nil {
			return err
		}
		if err := s.entriesOpen(tx, who, ride); err != nil {
			return err
		}
		if signup, err = tx.Signup(ids[1], ids[2]); err != nil {
			return err
		}
		if err := ledger.Unchanged(request.Etag, signup, signup.Name); err != nil {
			return err
		}
		if signup.State == pb.Signup_WITHDRAWN {
			return nil
		}
		if err := s.takeOut(tx, ride, signup); err != nil {
			return err
		}
		return tx.Append(audit(who, "RideService/WithdrawSignup", signup.Name, "withdrew"))
	})
	return signup, err
}

// takeOut withdraws a sign-up; who has waited longest moves up.
func (d *desk) takeOut(tx *ledger.Tx, ride *pb.Ride, signup *pb.Signup) error {
	had := signup.State == pb.Signup_IN
	signup.State = pb.Signup_WITHDRAWN
	if err := tx.SaveSignup(signup); err != nil || !had {
		return err
	}
	return d.fill(tx, ride)
}

// placesKept refuses fewer places than are taken.
func placesKept(tx *ledger.Tx, ride *pb.Ride) error {
	free, err := freePlaces(tx, ride)
	if err == nil && free < 0 {
		err = fault.Invalid("ride.places", "%d have a place already; withdraw the sign-up of whoever stands back first", int(ride.Places)-free)
	}
	return err
}

// fill gives the places that are free to those who have waited longest; past the planned start to nobody.
func (d *desk) fill(tx *ledger.Tx, ride *pb.Ride) error {
	if gathering(tx, ride) {
		return nil
	}
	id := names.Last(ride.Name)
	tally, err := tx.Tally(id)
	if err != nil || tally.Entered == tally.In { // nobody waits
		return err
	}
	free, err := freePlaces(tx, ride)
	if err != nil || free <= 0 {
		return err
	}
	all, err := signupsOf(tx, id)
	if err != nil {
		return err
	}
	for _, signup := range all {
		if signup.State != pb.Signup_WAITING || free <= 0 {
			continue
		}
		signup.State = pb.Signup_IN
		if err := tx.SaveSignup(signup); err != nil {
			return err
		}
		if err := d.tell(tx, ride, &pb.Letter{Kind: pb.Letter_PLACE_CAME_FREE}, signup.Member); err != nil {
			return err
		}
		free--
	}
	return nil
}
