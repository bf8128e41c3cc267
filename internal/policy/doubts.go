package policy

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

const lightHint = "lights in the dark are the law in many places; add a rule with  check: lights, when: dark, otherwise: hold"

// doubts warns of what can be meant but seldom is. Cycle lights in the dark are the law in many places, in Great Britain
// from sunset to sunrise (Road Vehicles Lighting Regulations 1989, reg 24).
func (c *checker) doubts() {
	c.doubtSettings()
	c.doubtCallOff()
	c.doubtSeason()
	c.doubtGroups()
	c.doubtLampRules()
	c.doubtDangers()
	c.doubtWidths()
	c.doubtUsual(settingsOf(c.policy).ProtoReflect(), "", usualSettings())
	limits := usualLimits()
	for i, rule := range c.policy.GetRules() {
		c.doubtWhen(rule, rulePath(i))
		c.doubtNeed(rule, rulePath(i)+".need")
		c.doubtRule(rule, rulePath(i)+".need", limits)
	}
	c.hidden()
}

// doubtLampRules warns where no rule, or none that holds a bike back, asks for lamps whenever it is dark.
func (c *checker) doubtLampRules() {
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

// doubtWhen warns of words that do nothing.
func (c *checker) doubtWhen(rule *pb.Rule, path string) {
	if len(rule.GetWhen()) > 1 && slices.Contains(rule.GetWhen(), pb.Circumstance_ALWAYS) {
		c.warn(path+".when", "always makes the other words of when needless", "keep either always or the others")
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
