package rollcall

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// Call tells how the roll call of a ride stands at a time, from what it rests on and its marks, in whatever order these
// come and however often.
func Call(basis *pb.RollBasis, marks []*pb.Mark, now time.Time) *pb.RollCall {
	counting := Counting(marks)
	c := &caller{
		basis: basis, now: now, watch: phrase.WatchOf(basis.GetZone(), timestamppb.New(now)),
		own: byRider(counting), plans: map[string]*pb.GroupPlan{}, rostered: map[string]string{},
	}
	for _, plan := range basis.GetPlans() {
		c.plans[plan.GetGroup()] = plan
		if c.lastHome == nil || plan.GetHomeAt().AsTime().After(c.lastHome.GetHomeAt().AsTime()) {
			c.lastHome = plan
		}
	}
	for _, rider := range basis.GetRiders() {
		c.rostered[rider.GetMember()] = rider.GetGroup()
	}
	c.off = setOffs(counting, c.rostered)
	c.signing = slices.ContainsFunc(counting, func(mark *pb.Mark) bool { return mark.GetWhat() == pb.Mark_SIGNED_ON })
	c.closed, c.closedGroups, c.known = closed(basis.GetClosings())
	call := &pb.RollCall{Basis: basis, AsOf: timestamppb.New(now), Closed: c.closed, Accounted: true}
	for _, mark := range marks {
		call.Newest = max(call.Newest, mark.GetNumber())
	}
	call.Riders = c.riders()
	for _, roll := range call.Riders {
		call.Accounted = call.Accounted && roll.Accounted
		if (c.closed || c.closedGroups[roll.Group]) && !roll.Accounted && !c.known[roll.Member] {
			call.Doubts = append(call.Doubts, fmt.Sprintf(
				"%s is %s by a mark that came after the closing; open the roll call again", roll.DisplayName, Word(roll.State)))
		}
	}
	call.Doubts = append(call.Doubts, lostStrikes(marks)...)
	call.Groups = c.groups(call.Riders)
	return call
}

// caller is a roll call under way.
type caller struct {
	basis        *pb.RollBasis
	now          time.Time
	watch        phrase.Watch
	own          map[string][]*pb.Mark
	plans        map[string]*pb.GroupPlan
	lastHome     *pb.GroupPlan
	rostered     map[string]string
	off          map[string]time.Time
	signing      bool
	closed       bool
	closedGroups map[string]bool
	known        map[string]bool
}

// riders tells of everybody who has a place or a mark.
func (c *caller) riders() []*pb.RiderRoll {
	names := map[string]string{}
	for _, other := range c.basis.GetOthers() {
		names[other.GetMember()] = other.GetDisplayName()
	}
	var rolls []*pb.RiderRoll
	for _, rider := range c.basis.GetRiders() {
		rolls = append(rolls, c.rider(&pb.RiderRoll{
			Member: rider.GetMember(), DisplayName: rider.GetDisplayName(), Group: rider.GetGroup(), Placed: true}))
	}
	for member := range c.own {
		if _, placed := c.rostered[member]; !placed {
			rolls = append(rolls, c.rider(&pb.RiderRoll{Member: member, DisplayName: cmp.Or(names[member], lastPart(member))}))
		}
	}
	order := map[string]int{"": len(c.basis.GetPlans()) + 1}
	for i, plan := range c.basis.GetPlans() {
		order[plan.GetGroup()] = i + 1
	}
	rank := func(roll *pb.RiderRoll) int {
		switch {
		case roll.Overdue:
			return 0
		case !roll.Accounted:
			return 1
		}
		return 2
	}
	slices.SortFunc(rolls, func(a, b *pb.RiderRoll) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(order[a.Group], order[b.Group]), cmp.Compare(a.Group, b.Group),
			cmp.Compare(a.DisplayName, b.DisplayName), cmp.Compare(a.Member, b.Member))
	})
	return rolls
}

// rider tells how it stands with one rider.
func (c *caller) rider(roll *pb.RiderRoll) *pb.RiderRoll {
	marks := c.own[roll.Member]
	follow(roll, marks)
	off, left := c.off[roll.Group]
	if left && roll.State == pb.RiderRoll_SIGNED_ON && !At(roll.Last).After(off) {
		roll.State = pb.RiderRoll_OUT // the group has set off, and the rider was there
	}
	roll.Accounted = accounted(roll.State)
	roll.Doubts = doubts(roll, marks, c.signing, c.watch)
	plan := c.plans[roll.Group]
	if roll.Accounted {
		return roll
	}
	if m, words, ok := position(plan, c.now, c.watch); ok {
		roll.PlannedM, roll.Planned = proto.Float64(m), words
	}
	if plan == nil {
		plan = c.lastHome
	}
	if plan != nil {
		due := plan.GetHomeAt().AsTime().Add(c.basis.GetGrace().AsDuration())
		roll.DueAt = timestamppb.New(due)
		decided := (c.closed || c.closedGroups[roll.Group]) && c.known[roll.Member]
		roll.Overdue = !decided && !c.now.Before(due)
	}
	return roll
}

// groups counts the riders of each group.
func (c *caller) groups(riders []*pb.RiderRoll) []*pb.GroupRoll {
	var all []*pb.GroupRoll
	found := map[string]*pb.GroupRoll{}
	add := func(id, title string, home *timestamppb.Timestamp) {
		group := &pb.GroupRoll{Group: id, Title: cmp.Or(title, id), HomeAt: home, Closed: c.closed || c.closedGroups[id]}
		if off, ok := c.off[id]; ok {
			group.SetOffAt = timestamppb.New(off)
		}
		found[id], all = group, append(all, group)
	}
	for _, plan := range c.basis.GetPlans() {
		add(plan.GetGroup(), plan.GetTitle(), plan.GetHomeAt())
	}
	byGroup := slices.Clone(riders)
	slices.SortStableFunc(byGroup, func(a, b *pb.RiderRoll) int { // who is in none comes last
		return cmp.Compare(cmp.Or(a.Group, "~"), cmp.Or(b.Group, "~"))
	})
	for _, roll := range byGroup {
		if found[roll.Group] == nil {
			add(roll.Group, "", nil)
		}
		count(found[roll.Group], roll)
	}
	return all
}

// count adds a rider to a group.
func count(group *pb.GroupRoll, roll *pb.RiderRoll) {
	group.Riders++
	if roll.Overdue {
		group.Overdue++
	}
	switch roll.State {
	case pb.RiderRoll_NOT_SEEN:
		group.NotSeen++
	case pb.RiderRoll_SIGNED_ON:
		group.SignedOn++
	case pb.RiderRoll_OUT:
		group.Out++
	case pb.RiderRoll_TURNED_BACK:
		group.TurnedBack++
	case pb.RiderRoll_HOME:
		group.Home++
	case pb.RiderRoll_HANDED_OVER:
		group.HandedOver++
	case pb.RiderRoll_DID_NOT_COME:
		group.DidNotCome++
	}
}

// lostStrikes tells of marks that strike one which is not there, of that rider.
func lostStrikes(marks []*pb.Mark) []string {
	there, said := map[string]bool{}, map[string]bool{}
	for _, mark := range marks {
		there[mark.GetMember()+" "+lastPart(mark.GetName())] = mark.GetWhat() != pb.Mark_STRIKE
	}
	var lost []string
	for _, mark := range marks {
		if key := mark.GetMember() + " " + mark.GetStrikes(); mark.GetWhat() == pb.Mark_STRIKE && !there[key] && !said[key] {
			said[key] = true
			lost = append(lost, fmt.Sprintf("mark %s of %s is struck, and has not come yet", mark.GetStrikes(), lastPart(mark.GetMember())))
		}
	}
	slices.Sort(lost)
	return lost
}
