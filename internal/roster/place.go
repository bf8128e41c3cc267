package roster

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"sync"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/placement"
	"gritward/internal/policy"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// Input is all that a placement and an issue rest on.
type Input struct {
	Club       *pb.Club
	Ride       *pb.Ride
	LeaderName string
	Plan       *pb.RidePlan
	// Line is the ride's route, and Past the recorded times that Plan was reckoned with.
	Line *pb.RouteLine
	Past []*pb.RecordedTime
	// Timelines are those that Plan was reckoned with; nil: they are reckoned from Line. Without either a placement does not
	// tell how late a group may start.
	Timelines    *Timelines
	Policy       *policy.Policy
	PolicyNumber int32
	// Entrants are those who signed up and did not withdraw, in the order of signing up. Those who wait are told of,
	// not placed.
	Entrants []Entrant
	// Previous is the last issue, nil before the first.
	Previous *pb.Roster
	Now      time.Time
}

// Place decides who rides where.
func Place(ctx context.Context, in Input) (*pb.Placement, error) {
	s := newSeating(in)
	if err := s.sizes(); err != nil {
		return nil, err
	}
	result, err := s.solve(ctx)
	if err != nil {
		return nil, err
	}
	if s.trials, err = placement.NewTrials(s.asked, trialWork); err != nil {
		return nil, err
	}
	conflicts, told, err := s.conflicts(ctx, result)
	if err != nil {
		return nil, err
	}
	placed := &pb.Placement{
		Ride: in.Ride.Name, Placed: int32(result.Objective.Placed), Discomfort: int32(result.Objective.Discomfort),
		PreferencesMet: int32(result.Objective.PreferencesMet), Moves: int32(result.Objective.Moves),
		PolicyDigest: in.Policy.Digest(), PlacedAt: timestamppb.New(in.Now),
		Conflicts: conflicts, ConflictsUntold: untold(result, told), Fixed: s.fixed(result, told), Overrides: s.inUse(result),
	}
	if placed.Moved, err = s.moved(ctx, result, told); err != nil {
		return nil, err
	}
	if err := verify(ctx, s.asked, result, placed, checkLimit); err != nil {
		return nil, err
	}
	byID := map[string]placement.GroupResult{}
	for _, group := range result.Groups {
		byID[group.ID] = group
	}
	for _, group := range in.Plan.Groups {
		if answer := byID[group.Group]; answer.Runs {
			placed.Groups = append(placed.Groups, s.rosterGroup(group, answer))
		} else {
			idle, err := s.idle(ctx, group, answer)
			if err != nil {
				return nil, err
			}
			placed.Idle = append(placed.Idle, idle)
		}
	}
	if err := s.startLimits(placed.Groups); err != nil {
		return nil, err
	}
	if err := s.wished(ctx, placed, result); err != nil {
		return nil, err
	}
	placed.Unplaced = s.unplaced(result.Unplaced)
	placed.Basis, err = Basis(in)
	return placed, err
}

// idle tells of a group that does not run why not, and who would let it run.
func (s *seating) idle(ctx context.Context, group *pb.GroupPlan, answer placement.GroupResult) (*pb.IdleGroup, error) {
	idle := &pb.IdleGroup{Group: group.Group, Title: group.Title, Why: s.say(answer.WhyNot)}
	if pin := s.groupPin(group.Group); pin != nil && !pin.Runs {
		idle.Why = "the leader fixed that it does not run" + colon(stop(pin.Reason))
	}
	var err error
	idle.LetsRun, err = s.letsRun(ctx, group.Group)
	return idle, err
}

// mark begins the ids by which the optimiser knows riders, so that they are found again in what it says.
const mark = "@"

// riderID is the id of a member for the optimiser.
func riderID(member string) string { return mark + names.Last(member) }

var marked = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(mark + `[a-z0-9-]+`) })

// say puts names of people for ids in what the optimiser says.
func (s *seating) say(text string) string {
	return marked().ReplaceAllStringFunc(text, func(id string) string {
		if entrant, ok := s.entrants[id]; ok {
			return entrant.Member.DisplayName
		}
		return id
	})
}

// seating holds the entrants by rider id, with their standings by group, in the plan's order.
type seating struct {
	in       Input
	entrants map[string]Entrant
	order    []string
	waiting  []string
	barred   []string
	stands   map[string][]pb.Standing
	assessed map[[2]string]*pb.Assessment // by rider and group; see assessment
	previous map[string]string
	titles   map[string]string
	asked    placement.Problem
	limits   bool // limits that were set aside count in what is asked
	trials   *placement.Trials
}

func newSeating(in Input) *seating {
	s := &seating{
		in: in, entrants: map[string]Entrant{}, stands: map[string][]pb.Standing{}, assessed: map[[2]string]*pb.Assessment{},
		previous: groupsOf(in.Previous), titles: map[string]string{},
	}
	for _, group := range in.Plan.Groups {
		s.titles[group.Group] = group.Title
	}
	book := in.Policy.Book()
	for _, entrant := range in.Entrants {
		id := riderID(entrant.Member.Name)
		s.entrants[id] = entrant
		subject := entrant.Subject()
		for _, group := range in.Plan.Groups {
			s.stands[id] = append(s.stands[id], readiness.Standing(book, subject, group, in.Now))
		}
		switch {
		case barred(entrant) != "":
			s.barred = append(s.barred, id)
		case entrant.Signup.State == pb.Signup_WAITING:
			s.waiting = append(s.waiting, id)
		default:
			s.order = append(s.order, id)
		}
	}
	s.asked = s.problem(false)
	return s
}

// groupsOf says who rode in which group in an issue, by rider id.
func groupsOf(issue *pb.Roster) map[string]string {
	rode := map[string]string{}
	for _, group := range issue.GetPlacement().GetGroups() {
		for _, rider := range ridersOf(group) {
			rode[riderID(rider.Member)] = group.Group
		}
	}
	return rode
}

// ridersOf lists the riders of a group, front to back.
func ridersOf(group *pb.RosterGroup) []*pb.Rider {
	var riders []*pb.Rider
	for _, row := range group.Rows {
		for _, rider := range []*pb.Rider{row.Left, row.Right} {
			if rider != nil {
				riders = append(riders, rider)
			}
		}
	}
	return riders
}

// problem puts the ride as the optimiser takes it, pins as rules; with the limits that were set aside only where limits is
// true.
func (s *seating) problem(limits bool) placement.Problem {
	policy := s.in.Policy.Groups()
	p := placement.Problem{
		NeedLeader:     policy.Leader == pb.GroupLimits_REQUIRED,
		NeedBackMarker: policy.BackMarker == pb.GroupLimits_REQUIRED,
	}
	for _, group := range s.in.Ride.Groups {
		g := placement.Group{
			ID: group.Id, PaceKmh: group.PaceKmh,
			MinSize: either(group.MinSize, policy.Size.Min), MaxSize: either(group.MaxSize, policy.Size.Max),
			BackPlaces: int(policy.BackPlaces), Leader: s.named(group.Leader), BackMarker: s.named(group.BackMarker),
		}
		s.pinGroup(&g, limits)
		p.Groups = append(p.Groups, g)
	}
	for _, id := range s.order {
		p.Riders = append(p.Riders, s.rider(id))
	}
	return p
}

// named is the id of a member named for a role, if the member has a place on the ride.
func (s *seating) named(name string) string {
	id := riderID(name)
	if slices.Contains(s.order, id) {
		return id
	}
	return ""
}

// guardian is the id of a junior's guardian, if that is an adult with a place on the ride.
func (s *seating) guardian(name string) string {
	id := s.named(name)
	if id != "" && s.entrants[id].Member.Junior {
		return ""
	}
	return id
}

// sizes refuses sizes of groups that cannot be met: a leader's limit may lie outside the policy's, which may have changed
// since.
func (s *seating) sizes() error {
	for i, group := range s.asked.Groups {
		if group.MinSize > group.MaxSize {
			return fault.Invalid(fmt.Sprintf("ride.groups[%d]", i),
				"the group %s would need at least %d riders and take at most %d; give it other sizes, or look at the policy's",
				group.ID, group.MinSize, group.MaxSize)
		}
	}
	return nil
}

// barred says why an entrant cannot ride whatever the bike's standing; "" when nothing is in the way.
func barred(entrant Entrant) string {
	switch {
	case entrant.Member.SuspendedAt != nil:
		return "The member is suspended."
	case entrant.Bike.GetRetiredAt() != nil:
		return "The bike is retired: sign up with another."
	case entrant.Absent:
		return "Did not come, by the roll call."
	}
	return ""
}

func either(asked, policy int32) int {
	if asked > 0 {
		return int(asked)
	}
	return int(policy)
}

// rider puts one entrant as the optimiser takes it.
func (s *seating) rider(id string) placement.Rider {
	entrant := s.entrants[id]
	member, signup := entrant.Member, entrant.Signup
	rider := placement.Rider{
		ID:        id,
		Preferred: signup.PreferredGroup, Party: signup.Party,
		MayLead:     member.MayLead && (signup.WillLead == nil || *signup.WillLead),
		MayMarkBack: member.MayMarkBack && (signup.WillMarkBack == nil || *signup.WillMarkBack),
		Junior:      member.Junior, Previous: s.previous[id],
		Experience: int(member.RidesRidden), Standings: map[string]placement.Standing{},
	}
	rider.PaceMinKmh, rider.PaceMaxKmh = s.band(id)
	if rider.PaceMaxKmh == 0 {
		rider.PaceMaxKmh = placement.MaxPaceKmh
	}
	if member.Junior {
		rider.Guardian = s.guardian(member.Guardian)
	}
	for _, group := range s.in.Plan.Groups {
		rider.Standings[group.Group] = standings[s.standing(id, group.Group)]
	}
	s.pinRider(&rider)
	return rider
}

var standings = map[pb.Standing]placement.Standing{
	pb.Standing_CLEAR: placement.Clear, pb.Standing_ADVISED: placement.Advised,
	pb.Standing_BACK: placement.Back, pb.Standing_HELD: placement.Held,
}
