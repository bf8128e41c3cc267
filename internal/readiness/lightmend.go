package readiness

import pb "gritward/proto/gritward/v1"

// mendLights carries lamps that are missing, each as the rule asks and lasting long enough: steady, on the bike, fully
// charged. They go before those of the bike, so that they are reckoned with even beside more lamps than are.
func mendLights(c *context, rule Rule) {
	for i := range rule.form.lamps {
		e := &rule.form.lamps[i]
		for range e.want {
			if e.look(c, c.facts.GetLights(), false).chains >= e.want {
				break
			}
			e.carry(c)
		}
	}
}

func (e *lampEnd) carry(c *context) {
	minutes := c.burning().needMin / max(c.burning().left, 0.01)
	lamp := &pb.Light{End: e.end, Mode: pb.Light_STEADY, Mount: pb.Light_BIKE, Power: pb.Light_RECHARGEABLE, RuntimeMin: &minutes, ChargedOn: c.startDay.text()}
	for i := range e.tests {
		e.tests[i].mend(c, lamp)
	}
	c.facts.Lights = append([]*pb.Light{lamp}, c.facts.Lights...)
}
