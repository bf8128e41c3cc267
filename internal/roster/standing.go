package roster

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// Entrant is one who has signed up: the member, the bike with its care log, and the sign-up.
type Entrant struct {
	Member *pb.Member
	Bike   *pb.Bike
	Signup *pb.Signup
	// Care is the bike's care log, oldest entry first.
	Care []*pb.CareEntry
	// LastWetRideOn is the day of the last wet ride that the bike rode home, YYYY-MM-DD; "" for none.
	LastWetRideOn string
	// Absent tells that the roll call marks the member as not come.
	Absent bool
	// Host is the name of whom a guest rides under; "" for a member.
	Host string
	// Looks are the look-overs of the bike for the ride, oldest first.
	Looks []*pb.LookOver
	// records are the digests of member, bike, sign-up, care log and look-overs, and digest is one of all that the checks take of the bike;
	// see Digested.
	records []string
	digest  string
}

// Digested is the entrant with digests of all that it is made of, for who asks much about the same: what was found of the bike once is not
// looked for again. Nothing in it may be changed afterwards.
func (e Entrant) Digested() (Entrant, error) {
	records, err := e.digests()
	if err != nil {
		return e, err
	}
	sum := sha256.New()
	for i, record := range records {
		if i != entrantsMember && i != entrantsSignup {
			sum.Write([]byte(record))
		}
	}
	fmt.Fprintf(sum, "%d %s", len(e.Care), e.LastWetRideOn)
	e.records, e.digest = records, hex.EncodeToString(sum.Sum(nil))
	return e, nil
}

// The places of member and sign-up among the records of an entrant.
const (
	entrantsMember = 0
	entrantsSignup = 2
)

// digests are those of member, bike, sign-up, each entry of the care log and each look-over, in this order.
func (e Entrant) digests() ([]string, error) {
	if e.records != nil {
		return e.records, nil
	}
	records := []proto.Message{e.Member, e.Bike, e.Signup}
	for _, entry := range e.Care {
		records = append(records, entry)
	}
	for _, look := range e.Looks {
		records = append(records, look)
	}
	made := make([]string, len(records))
	for i, record := range records {
		var err error
		if made[i], err = digestOf(record); err != nil {
			return nil, err
		}
	}
	return made, nil
}

// Subject is the entrant's bike as the checks take it.
func (e Entrant) Subject() readiness.Subject {
	return readiness.Subject{
		Bike: e.Bike.GetName(), Declaration: e.Bike.GetDeclaration(), Care: e.Care, LastWetRideOn: e.LastWetRideOn, Looks: e.Looks}
}

// Standings says where a bike stands in each group of a plan, in the plan's order. The book is that of the plan's policy:
// who asks for many bikes fetches it once.
func Standings(book readiness.Book, bike readiness.Subject, plan *pb.RidePlan, now time.Time) []*pb.Assessment {
	all := make([]*pb.Assessment, 0, len(plan.Groups))
	bike.HeldEverywhere = heldEverywhere(book, bike, plan, now)
	for _, group := range plan.Groups {
		all = append(all, readiness.Assess(book, bike, group, now))
	}
	return all
}

// Unmet is Standings with what is not met alone.
func Unmet(book readiness.Book, bike readiness.Subject, plan *pb.RidePlan, now time.Time) []*pb.Assessment {
	bike.HeldEverywhere = heldEverywhere(book, bike, plan, now)
	return readiness.Unmet(book, bike, plan.Groups, now)
}

// heldEverywhere tells whether every group of a plan holds a bike.
func heldEverywhere(book readiness.Book, bike readiness.Subject, plan *pb.RidePlan, now time.Time) bool {
	return !slices.ContainsFunc(plan.Groups, func(group *pb.GroupPlan) bool { return readiness.Standing(book, bike, group, now) != pb.Standing_HELD })
}

// InAWord is Standings with group and standing alone.
func InAWord(book readiness.Book, bike readiness.Subject, plan *pb.RidePlan, now time.Time) []*pb.Assessment {
	all := make([]*pb.Assessment, 0, len(plan.Groups))
	for _, group := range plan.Groups {
		all = append(all, &pb.Assessment{Group: group.Group, Standing: readiness.Standing(book, bike, group, now)})
	}
	return all
}

// assessment is what was found of a rider's bike in a group, told in full only when asked for: most never are.
func (s *seating) assessment(id, group string) *pb.Assessment {
	key := [2]string{id, group}
	at := s.planned(group)
	if at < 0 {
		return nil
	}
	if s.assessed[key] == nil {
		bike := s.entrants[id].Subject()
		bike.HeldEverywhere = !slices.ContainsFunc(s.stands[id], func(one pb.Standing) bool { return one != pb.Standing_HELD })
		s.assessed[key] = readiness.Assess(s.in.Policy.Book(), bike, s.in.Plan.Groups[at], s.in.Now)
	}
	return s.assessed[key]
}

// planned is the place of a group in the plan; -1 where it has none.
func (s *seating) planned(group string) int {
	return slices.IndexFunc(s.in.Plan.Groups, func(plan *pb.GroupPlan) bool { return plan.Group == group })
}

// unmet gives the findings that are not met, worst first, in the policy's order among equals.
func unmet(findings []*pb.Finding) []*pb.Finding {
	var left []*pb.Finding
	for standing := pb.Standing_HELD; standing > pb.Standing_CLEAR; standing-- {
		for _, finding := range findings {
			if finding.Standing == standing {
				left = append(left, finding)
			}
		}
	}
	return left
}
