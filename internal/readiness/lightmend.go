package readiness

import pb "gritward/proto/gritward/v1"

// mendLights charges the lamps of the bike where the rule asks for it, and carries those that are still missing, each as the
// rule asks and lasting long enough: steady, on the bike, fully charged. They go before those of the bike, so that they are reckoned with even
// beside more lamps than are.
func mendLights(c *context, rule Rule) {
	for i := range rule.form.lamps {
		e := &rule.form.lamps[i]
		if rule.GetLights().GetChargedWithin() != nil {
			e.charge(c)
		}
		if e.want == 0 {
			e.makeLike(c)
		}
		for range e.want {
			if e.look(c, c.facts.GetLights(), false).chains >= e.want {
				break
			}
			e.carry(c)
		}
	}
}

// makeLike makes the lamps of this end as asked, each of them where all must be so. Where no lamp at all was declared
// one is carried.
func (e *lampEnd) makeLike(c *context) {
	if len(c.facts.GetLights()) == 0 {
		e.carry(c)
	}
	first := true
	for _, lamp := range c.facts.GetLights() {
		if lamp.GetEnd() != e.end || e.like(c, c.facts.GetLights()) >= yes {
			continue
		}
		for i := range e.tests {
			if e.tests[i].each || first {
				e.tests[i].mend(c, lamp)
			}
		}
		first = false
	}
}

// charge charges the lamps of the end.
func (e *lampEnd) charge(c *context) {
	for _, lamp := range c.facts.GetLights() {
		if lamp.GetEnd() == e.end && lamp.GetPower() != pb.Light_DYNAMO {
			lamp.ChargedOn = c.startDay.text()
		}
	}
}

func (e *lampEnd) carry(c *context) {
	minutes := e.needMin(c) / max(c.burning().left, 0.01)
	lamp := &pb.Light{End: e.end, Mode: pb.Light_STEADY, Mount: pb.Light_BIKE, Power: pb.Light_RECHARGEABLE, RuntimeMin: &minutes, ChargedOn: c.startDay.text()}
	for i := range e.tests {
		e.tests[i].mend(c, lamp)
	}
	c.facts.Lights = append([]*pb.Light{lamp}, c.facts.Lights...)
}
