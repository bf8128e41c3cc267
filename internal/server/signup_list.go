package server

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// signupsOf reads the sign-ups of a ride in the order of signing up.
func signupsOf(tx *ledger.Tx, ride string) ([]*pb.Signup, error) {
	var all []*pb.Signup
	err := tx.Signups(ride, func(signup *pb.Signup) error {
		all = append(all, signup)
		return nil
	})
	slices.SortStableFunc(all, byTurn)
	return all, err
}

func byTurn(a, b *pb.Signup) int { return cmp.Compare(a.Turn, b.Turn) }

// ListSignups implements RideService.
func (s *rideService) ListSignups(ctx context.Context, request *pb.ListSignupsRequest) (*pb.ListSignupsResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListSignupsResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		g, err := s.ground(tx, ids[1])
		if err != nil {
			return err
		}
		signups, err := entered(tx, ids[1])
		if err != nil {
			return err
		}
		countWaiting(signups)
		if isGuest(who.member) {
			signups = slices.DeleteFunc(signups, func(s *pb.Signup) bool { return s.Member != who.member.Name })
		}
		if signups, response.NextPageToken, err = pageOfSignups(signups, request.PageToken, request.PageSize); err != nil {
			return err
		}
		may, err := privyTo(tx, who, g.ride)
		if err != nil {
			return err
		}
		for _, signup := range signups {
			switch {
			case request.WithoutStandings:
				err = s.named(tx, signup, may)
			case request.WithoutFindings:
				err = s.standing(tx, who, g, signup, may, roster.InAWord)
			default:
				err = s.standing(tx, who, g, signup, may, roster.Unmet)
			}
			if err != nil {
				return err
			}
		}
		response.Signups = signups
		return nil
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// GetSignup implements RideService.
func (s *rideService) GetSignup(ctx context.Context, request *pb.GetSignupRequest) (*pb.Signup, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.SignupShape)
	if err != nil {
		return nil, err
	}
	var found *pb.Signup
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		g, err := s.ground(tx, ids[1])
		if err != nil {
			return err
		}
		signups, err := entered(tx, ids[1])
		if err != nil {
			return err
		}
		countWaiting(signups)
		at := slices.IndexFunc(signups, func(one *pb.Signup) bool { return one.Name == request.Name })
		if at < 0 {
			return fault.NotFound(request.Name)
		}
		found = signups[at]
		may, err := privyTo(tx, who, g.ride)
		if err != nil {
			return err
		}
		return s.standing(tx, who, g, found, may, roster.Unmet)
	})
	return found, err
}

// countWaiting tells each that waits how many wait before.
func countWaiting(signups []*pb.Signup) {
	waiting := int32(0)
	for _, signup := range signups {
		if signup.State == pb.Signup_WAITING {
			signup.WaitingBefore = waiting
			waiting++
		}
	}
}

// judging says where a bike stands in each group of a plan.
type judging func(readiness.Book, readiness.Subject, *pb.RidePlan, time.Time) []*pb.Assessment

// standing adds to a sign-up what is computed when it is read, as far as the caller may know it: how others' bikes stand is told to members
// by the published roster alone, and there as far as it decides who rides where. A leader may assess every bike, and opens the start line,
// where what was just found must be seen.
func (s *rideService) standing(tx *ledger.Tx, who *caller, g *ground, signup *pb.Signup, may func(member string) bool, judge judging) error {
	if !may(signup.Member) && !who.has(pb.Role_LEADER) {
		return s.named(tx, signup, may)
	}
	entrant, err := entrantOf(tx, signup)
	if err != nil {
		return err
	}
	signup.DisplayName, signup.GuestOf = entrant.Member.DisplayName, entrant.Host
	signup.Standings = judge(g.book, entrant.Subject(), g.plan, g.now)
	if !may(signup.Member) {
		roster.Withhold(signup)
	}
	return nil
}

// named is standing without how the bike stands.
func (s *rideService) named(tx *ledger.Tx, signup *pb.Signup, may func(member string) bool) error {
	member, err := tx.PeekMember(names.Last(signup.Member))
	if err != nil {
		return fmt.Errorf("%s: %w", signup.Name, err)
	}
	if signup.GuestOf, err = hostOf(tx, member); err != nil {
		return fmt.Errorf("%s: %w", signup.Name, err)
	}
	signup.DisplayName = member.DisplayName
	if !may(signup.Member) {
		roster.Withhold(signup)
	}
	return nil
}

// pageOfSignups cuts a page out of sign-ups that are in the order of signing up. A token is the turn of the last one, so
// that nobody is told twice or missed when others withdraw between two pages.
func pageOfSignups(signups []*pb.Signup, token string, asked int32) (page []*pb.Signup, next string, err error) {
	if token != "" {
		after, err := strconv.ParseInt(token, 10, 32)
		if err != nil || after < 1 {
			return nil, "", badToken()
		}
		signups = slices.DeleteFunc(signups, func(s *pb.Signup) bool { return s.Turn <= int32(after) })
	}
	size := pageSize(asked)
	if len(signups) <= size {
		return signups, "", nil
	}
	return signups[:size], strconv.Itoa(int(signups[size-1].Turn)), nil
}

// entrants are those who have signed up and not withdrawn, with their bikes, in the order of signing up. They are shared: do not change them.
func (d *desk) entrants(tx *ledger.Tx, ride string) ([]roster.Entrant, error) {
	return d.going.get(tx, names.Ride(tx.Club, ride), func() ([]roster.Entrant, error) { return readEntrants(tx, ride) })
}

func readEntrants(tx *ledger.Tx, ride string) ([]roster.Entrant, error) {
	var signups []*pb.Signup
	err := tx.PeekSignups(ride, func(signup *pb.Signup) error {
		if signup.State != pb.Signup_WITHDRAWN {
			signups = append(signups, signup)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(signups, byTurn)
	away, err := absent(tx, ride)
	if err != nil {
		return nil, err
	}
	var all []roster.Entrant
	for _, signup := range signups {
		entrant, err := entrantOf(tx, signup)
		if err != nil {
			return nil, err
		}
		entrant.Absent = away[signup.Member]
		if entrant, err = entrant.Digested(); err != nil {
			return nil, err
		}
		all = append(all, entrant)
	}
	return all, nil
}

// entered reads the sign-ups of a ride that are not withdrawn, in the order of signing up.
func entered(tx *ledger.Tx, ride string) ([]*pb.Signup, error) {
	all, err := signupsOf(tx, ride)
	return slices.DeleteFunc(all, func(s *pb.Signup) bool { return s.State == pb.Signup_WITHDRAWN }), err
}

// entrantOf reads who has signed up, and with which bike. Member and bike are shared: do not change them.
func entrantOf(tx *ledger.Tx, signup *pb.Signup) (roster.Entrant, error) {
	member, err := tx.PeekMember(names.Last(signup.Member))
	if err != nil {
		return roster.Entrant{}, fmt.Errorf("%s: %w", signup.Name, err)
	}
	bike, err := tx.PeekBike(names.Part(signup.Bike, "members"), names.Part(signup.Bike, "bikes"))
	if err != nil {
		return roster.Entrant{}, fmt.Errorf("%s: %w", signup.Name, err)
	}
	host, err := hostOf(tx, member)
	if err != nil {
		return roster.Entrant{}, fmt.Errorf("%s: %w", signup.Name, err)
	}
	looks, err := looksFor(tx, bike.Name, names.Ride(tx.Club, names.Part(signup.Name, "rides")))
	if err != nil {
		return roster.Entrant{}, fmt.Errorf("%s: %w", signup.Name, err)
	}
	subject, err := subjectOf(tx, bike)
	return roster.Entrant{
		Member: member, Bike: bike, Signup: signup, Care: subject.Care, LastWetRideOn: subject.LastWetRideOn, Host: host, Looks: looks}, err
}
