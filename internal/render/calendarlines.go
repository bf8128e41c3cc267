package render

import (
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// litMin is for how long the member needs lights: in the own group, or before there is one in the group that needs them
// longest.
func (c *entry) litMin() float64 {
	if c.group != nil {
		return c.plan.GetLitMin()
	}
	most := 0.0
	for _, plan := range [][]*pb.GroupPlan{c.Plan.GetGroups(), c.GetPlan().GetGroups()} {
		for _, g := range plan {
			most = max(most, g.GetLitMin())
		}
	}
	return most
}

// lines are what the entry tells, each in a line.
func (c *entry) lines() []string {
	var out []string
	say := func(s string) {
		if s != "" {
			out = append(out, s)
		}
	}
	switch {
	case c.Ride.GetState() == pb.Ride_CALLED_OFF:
		say("CALLED OFF: " + phrase.Stopped(phrase.FirstOf(c.Ride.GetCallOffReason(), "no reason is given")) + " Do not go.")
		return out
	case c.cancelled:
		say("You have withdrawn from this ride.")
		return out
	case c.group != nil:
		c.placed(say)
	case c.Signup.GetState() == pb.Signup_WAITING:
		say("You wait for a place.")
	case c.draft():
		say("You have a place. The roster tells your group and its times.")
	default:
		c.unplacedLines(say)
	}
	if leader := c.GetLeaderName(); leader != "" {
		say("Ride leader " + leader + phrase.Between(", telephone ", c.Ride.GetLeaderPhone(), "") + ".")
	} else {
		say(phrase.Between("Ride leader's telephone ", c.Ride.GetLeaderPhone(), "."))
	}
	for _, changed := range c.GetSince() {
		say("Changed since this issue: " + changed)
	}
	if !c.draft() {
		say("By issue " + phrase.Number(float64(c.GetNumber()), 0) + " of the roster.")
	}
	say("Times are reckoned, not promised. An official weather warning comes first.")
	return out
}

// placed tells the group, its times and light, and what is to be put right.
func (c *entry) placed(say func(string)) {
	say("Group " + groupTitle(c.group) + ": " + phrase.FirstOf(c.person(c.group.GetLeader()), "nobody") + " leads, " +
		phrase.FirstOf(c.person(c.group.GetBackMarker()), "nobody") + " marks the back.")
	if c.plan.GetHomeAt().IsValid() {
		say("Leaves " + c.watch.Clock(c.plan.GetStartAt()) + ", home about " + c.watch.Clock(c.plan.GetHomeAt()) + ": " +
			lightTale(c.GetPlan(), c.plan, c.watch) + ".")
	}
	if roles := roles(c.rider); roles != "" {
		say("Your part: " + roles + ".")
	}
	if words := standingMark(c.rider); words != "" {
		say("Your bike: " + words + ".")
	}
	for _, f := range worstFirst(c.rider.GetFindings()) {
		say(todo([]*pb.Finding{f}))
	}
}

// unplacedLines tell why the member is in no group.
func (c *entry) unplacedLines(say func(string)) {
	say("You have no place in a group by this issue of the roster.")
	for _, u := range c.GetPlacement().GetUnplaced() {
		if u.GetMember() != c.Member {
			continue
		}
		for _, why := range u.GetWhy() {
			say(phrase.Sentence(why))
		}
		for _, f := range worstFirst(u.GetFindings()) {
			say(todo([]*pb.Finding{f}))
		}
	}
}
