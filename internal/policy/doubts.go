package policy

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

const lightHint = "lights in the dark are the law in many places; add a rule with  check: lights, when: dark, otherwise: hold"

// doubts warns of what can be meant but seldom is. Cycle lights in the dark are the law in many places, in Great Britain
// from sunset to sunrise (Road Vehicles Lighting Regulations 1989, reg 24).
func (c *checker) doubts() {
	if c.policy.GetDark().GetMargin().AsDuration() == 0 {
		c.warn("dark.margin", "there is no margin before dark", "a group that is late by one puncture is then without lights; write margin: 30m")
	}
	if c.policy.GetLights().GetReserve().AsDuration() == 0 {
		c.warn("lights.reserve", "lamps need not last longer than planned", "write reserve: 30m")
	}
	front := c.strictest((*pb.LightsNeed).GetFront)
	rear := c.strictest((*pb.LightsNeed).GetRear)
	switch {
	case front < 0 && rear < 0:
		c.warn("rules", "no rule asks for lights in the dark", lightHint)
	case front < 0:
		c.warn("rules", "no rule asks for a front light in the dark", lightHint)
	case rear < 0:
		c.warn("rules", "no rule asks for a rear light in the dark", lightHint)
	}
	for i, rule := range c.policy.GetRules() {
		if (i == front || i == rear) && rule.GetOtherwise() != pb.Rule_HOLD {
			c.warn(rulePath(i)+".otherwise", "a bike without the lights this rule asks for would start in the dark",
				"lights in the dark are the law in many places; write otherwise: hold")
		}
	}
}

// strictest finds the rule that costs most among those that ask for lamps of one end whenever it is dark; -1 if none.
func (c *checker) strictest(lamps func(*pb.LightsNeed) int32) int {
	found := -1
	for i, rule := range c.policy.GetRules() {
		if lamps(rule.GetLights()) == 0 || !inDark(rule) {
			continue
		}
		if found < 0 || rule.GetOtherwise() > c.policy.GetRules()[found].GetOtherwise() {
			found = i
		}
	}
	return found
}

// inDark tells whether a rule applies whenever it is dark.
func inDark(rule *pb.Rule) bool {
	return len(rule.GetUnless()) == 0 &&
		(slices.Contains(rule.GetWhen(), pb.Circumstance_DARK) || slices.Contains(rule.GetWhen(), pb.Circumstance_ALWAYS))
}
