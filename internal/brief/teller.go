package brief

import (
	"slices"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// teller knows the roster and how to name its people and groups.
type teller struct {
	r      *pb.Roster
	watch  phrase.Watch // on the ride's day
	groups []group
	names  map[string]string // display names by member
}

// group is a group that runs, with its plan.
type group struct {
	*pb.RosterGroup
	title string
	plan  *pb.GroupPlan
}

func newTeller(r *pb.Roster) *teller {
	t := &teller{r: r, watch: watchOf(r), names: map[string]string{}}
	plans := map[string]*pb.GroupPlan{}
	for _, p := range r.GetPlan().GetGroups() {
		plans[p.GetGroup()] = p
	}
	for _, g := range r.GetPlacement().GetGroups() {
		plan := g.GetPlan()
		if plan == nil {
			plan = plans[g.GetGroup()]
		}
		t.groups = append(t.groups, group{g, phrase.FirstOf(g.GetTitle(), g.GetGroup(), "a group without a name"), plan})
		for _, rider := range ridersOf(g) {
			t.names[rider.GetMember()] = rider.GetDisplayName()
		}
	}
	for _, u := range r.GetPlacement().GetUnplaced() {
		t.names[u.GetMember()] = u.GetDisplayName()
	}
	delete(t.names, "") // a rider without a member's name names nobody else
	return t
}

// watchOf is a watch on the ride's day, also where only its civil time is known.
func watchOf(r *pb.Roster) phrase.Watch {
	watch := phrase.WatchOf(r.GetZone(), r.GetRide().GetStartAt())
	day, _, found := strings.Cut(r.GetRide().GetStartLocal(), "T")
	if !r.GetRide().GetStartAt().IsValid() && found {
		return watch.On(day)
	}
	return watch
}

// ridersOf are the riders of a group, front to back, left before right.
func ridersOf(g *pb.RosterGroup) []*pb.Rider {
	var riders []*pb.Rider
	for _, row := range g.GetRows() {
		for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
			if rider != nil {
				riders = append(riders, rider)
			}
		}
	}
	return riders
}

// person is the display name of a member, or the last part of the member's name.
func (t *teller) person(member string) string {
	return phrase.FirstOf(t.names[member], member[strings.LastIndexByte(member, '/')+1:], "somebody without a name")
}

// leader is the ride leader with the telephone number, as far as known; empty where nobody is named.
func (t *teller) leader() string {
	name := t.r.GetLeaderName()
	if member := t.r.GetRide().GetLeader(); name == "" && member != "" {
		name = t.person(member)
	}
	if phone := t.r.GetRide().GetLeaderPhone(); phone != "" && name != "" {
		name += ", telephone " + phone
	}
	return name
}

// holds tells whether a circumstance holds for any group that runs.
func (t *teller) holds(c pb.Circumstance) bool {
	return slices.ContainsFunc(t.groups, func(g group) bool { return has(g.plan, c) })
}
