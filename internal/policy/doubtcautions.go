package policy

import (
	"fmt"
	"time"

	pb "gritward/proto/gritward/v1"
)

// danger is a fault that can hurt somebody at once. The shipped policy holds a bike that has it.
type danger struct {
	what  string
	asked func(*pb.Rule) bool
}

// dangers: brakes are required by SI 1983/1176, regs 7 and 8; the others are common practice, no source.
func dangers() []danger {
	return []danger{
		{"worn, dirty or missing brakes", func(r *pb.Rule) bool {
			b := r.GetBrakes()
			return b.GetBothEnds() || b.GetRimWithin() || b.GetClean() || b != nil && (b.DiscPadMm != nil || b.RimPadMm != nil)
		}},
		{"tyres that are finished or deeply cut", func(r *pb.Rule) bool { return r.GetTyres().GetTread() != 0 || r.GetTyres().GetCuts() != 0 }},
		{"damage that no mechanic has looked at", func(r *pb.Rule) bool {
			return r.GetFrame().GetNoOpenDamage() || r.GetClean().GetNoOpenDamage() || r.GetClean().GetFoundPutRight()
		}},
		{"a guard that is loose and can stop a wheel", func(r *pb.Rule) bool { return r.GetGuards().GetSecure() }},
	}
}

// doubtDangers warns where rules ask for what a dangerous fault breaks, and none of them holds the bike back.
func (c *checker) doubtDangers() {
	for _, d := range dangers() {
		strictest := -1
		for i, rule := range c.policy.GetRules() {
			if d.asked(rule) && (strictest < 0 || rule.GetOtherwise() > c.policy.GetRules()[strictest].GetOtherwise()) {
				strictest = i
			}
		}
		if strictest >= 0 && c.policy.GetRules()[strictest].GetOtherwise() != pb.Rule_HOLD {
			c.warn(rulePath(strictest)+".otherwise", "a bike with "+d.what+" would start", "write otherwise: hold, here or in a rule of its own")
		}
	}
}

// doubtWidths warns of two rules on tyres of which a bike with rim brakes can meet only one.
func (c *checker) doubtWidths() {
	wide, narrow := -1, -1
	rules := c.policy.GetRules()
	for i, rule := range rules {
		need := rule.GetTyres()
		if need == nil {
			continue
		}
		if need.WidthMinMm != nil && (wide < 0 || need.GetWidthMinMm() > rules[wide].GetTyres().GetWidthMinMm()) {
			wide = i
		}
		if need.WidthMaxRimMm != nil && (narrow < 0 || need.GetWidthMaxRimMm() < rules[narrow].GetTyres().GetWidthMaxRimMm()) {
			narrow = i
		}
	}
	if wide < 0 || narrow < 0 || wide == narrow || rules[wide].GetTyres().GetWidthMinMm() <= rules[narrow].GetTyres().GetWidthMaxRimMm() {
		return
	}
	c.warn(rulePath(wide)+".need.width_min", fmt.Sprintf("no bike with rim brakes can meet this and the rule %s on line %d, whose width_max_rim is less, without stating its clearance",
		rules[narrow].GetId(), c.positions.Line(rulePath(narrow))), "write a width_min that is not above that width_max_rim")
}

// doubtGroups warns of sizes and places that contradict one another.
func (c *checker) doubtGroups() {
	groups := c.policy.GetGroups()
	size, back := groups.GetSize(), groups.GetBackPlaces()
	both := groups.GetLeader() == pb.GroupLimits_REQUIRED && groups.GetBackMarker() == pb.GroupLimits_REQUIRED
	switch {
	case both && size.GetMax() < 2:
		c.warn("groups.size.max", "no group can run: a leader and a back marker are two people", "write for example size: {min: 4, max: 12}")
	case both && size.GetMin() < 2:
		c.warn("groups.size.min", "a group of 1 never runs: a leader and a back marker are two people", "write min: 2 or more")
	}
	if groups.GetLeader() == pb.GroupLimits_OPTIONAL {
		c.warn("groups.leader", "a group may ride without a leader", "somebody must decide on the road; write leader: required")
	}
	if back >= size.GetMax() {
		c.warn("groups.back_places", fmt.Sprintf("back_places limits nothing: a group has %d riders at most", size.GetMax()), "write for example back_places: 3")
	}
	for i, rule := range c.policy.GetRules() {
		if back == 0 && rule.GetOtherwise() == pb.Rule_BACK {
			c.warn(rulePath(i)+".otherwise", "no group has a place at the back, so that back costs the ride as hold does", "write back_places: 3 under groups, or otherwise: advise or hold")
			return
		}
	}
}

// doubtSeason warns of a season that is hardly one. Days are compared as they stand, those of a change of the clocks too.
func (c *checker) doubtSeason() {
	from, _ := readEnd(c.policy.GetSeason().GetFrom()) // check has refused those that cannot be read
	to, _ := readEnd(c.policy.GetSeason().GetTo())
	if from == to {
		c.warn("season.to", "the season is one day", "write the last day of the season, for example to: 31 Mar")
	}
	if from.change != none || to.change != none {
		return
	}
	if next := time.Date(2000, to.month, to.day+1, 0, 0, 0, 0, time.UTC); order(next.Month(), next.Day()) == order(from.month, from.day) {
		c.warn("season", "the season is the whole year", "write for example {from: 1 Oct, to: 31 Mar}, or  when: always  in the rules")
	}
}
