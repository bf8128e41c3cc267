package readiness

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

// thing is one thing to carry.
type thing struct {
	asked       bool
	name, a, do string
	field       func(*pb.Carry) **bool
}

// carrySections looks at spares and kit. What a club asks for is common practice, no source.
func carrySections(rule *pb.Rule) []section {
	need := rule.GetCarry()
	if need == nil {
		return nil
	}
	var limits []limit
	if need.GetTubes() > 0 {
		limits = append(limits, tubes(need.GetTubes()))
	}
	for _, t := range things(need) {
		limits = append(limits, t.limit())
	}
	return []section{{limits: limits}}
}

// things are those that are asked for, beside tubes.
func things(need *pb.CarryNeed) []thing {
	return slices.DeleteFunc([]thing{
		{need.GetPump(), "pump", "a pump", "Carry a pump or inflator, and try it on the valves.", func(c *pb.Carry) **bool { return &c.Pump }},
		{need.GetTyreLevers(), "tyre levers", "tyre levers", "Carry tyre levers.", func(c *pb.Carry) **bool { return &c.TyreLevers }},
		{need.GetMultiTool(), "multi-tool", "a multi-tool", "Carry a multi-tool that fits the bike's bolts.", func(c *pb.Carry) **bool { return &c.MultiTool }},
		{need.GetChainLink(), "chain tool or joining link", "a chain tool or a joining link", "Carry a chain tool, or a joining link that fits the chain.", func(c *pb.Carry) **bool { return &c.ChainLink }},
		{need.GetTyreBoot(), "tyre boot", "a tyre boot", "Carry a tyre boot for a cut casing.", func(c *pb.Carry) **bool { return &c.TyreBoot }},
		{need.GetPhone(), "telephone", "a telephone", "Carry a charged telephone, kept warm.", func(c *pb.Carry) **bool { return &c.Phone }},
		{need.GetContactCard(), "contact card", "a contact card", "Carry a name and an emergency contact on paper.", func(c *pb.Carry) **bool { return &c.ContactCard }},
		{need.GetFirstAid(), "first-aid kit", "a first-aid kit", "Carry a first-aid kit.", func(c *pb.Carry) **bool { return &c.FirstAid }},
		{need.GetWarmLayer(), "warm layer", "a warm layer", "Carry a foil blanket or a spare warm layer: who waits for a puncture gets cold.", func(c *pb.Carry) **bool { return &c.WarmLayer }},
		{need.GetWaterproof(), "waterproof", "a waterproof", "Carry a waterproof.", func(c *pb.Carry) **bool { return &c.Waterproof }},
		{need.GetFood(), "food and money", "food and money", "Carry food and money.", func(c *pb.Carry) **bool { return &c.Food }},
	}, func(t thing) bool { return !t.asked })
}

// quickCarry looks at everything in one go; see quick.go.
func quickCarry(rule *pb.Rule) func(*context) bool {
	need := rule.GetCarry()
	enough := tubes(max(need.GetTubes(), 1)).look
	there := func(asked bool, thing *bool) bool { return !asked || thing != nil && *thing }
	return func(c *context) bool {
		k := c.facts.GetCarry()
		return k != nil && there(need.Pump, k.Pump) && there(need.TyreLevers, k.TyreLevers) && there(need.MultiTool, k.MultiTool) &&
			there(need.ChainLink, k.ChainLink) && there(need.TyreBoot, k.TyreBoot) && there(need.Phone, k.Phone) &&
			there(need.ContactCard, k.ContactCard) && there(need.FirstAid, k.FirstAid) && there(need.WarmLayer, k.WarmLayer) &&
			there(need.Waterproof, k.Waterproof) && there(need.Food, k.Food) && (need.Tubes == 0 || enough(c) >= yes)
	}
}

func (t thing) limit() limit {
	return truth{
		needed: t.name, good: t.name, bad: "no " + t.name, name: t.name, declare: "whether you carry " + t.a, do: t.do,
		get: func(f *pb.BikeFacts) *bool {
			if f.GetCarry() == nil {
				return nil
			}
			return *t.field(f.Carry)
		},
		set: func(f *pb.BikeFacts, v *bool) { *t.field(made(&f.Carry)) = v },
	}.limit()
}

// tubes asks for spare inner tubes. Where both tyres run without, one does: it goes in when sealant fails.
func tubes(want int32) limit {
	wanted := func(c *context) int32 {
		if t := c.facts.GetTyres(); t.GetFront().GetTubeless() && t.GetRear().GetTubeless() {
			return 1
		}
		return want
	}
	needed := count(int(want), "spare tube")
	if want > 1 {
		needed += " (1 for tyres without tubes)"
	}
	return limit{
		needed: needed, declare: "how many spare tubes you carry",
		look: func(c *context) answer {
			carry := c.facts.GetCarry()
			return answerOf(carry != nil && carry.Tubes != nil, carry.GetTubes() >= wanted(c))
		},
		declared: func(c *context, w *words) {
			if carry := c.facts.GetCarry(); carry != nil && carry.Tubes != nil {
				w.count(int(carry.GetTubes()), "spare tube")
			} else {
				w.add("spare tubes " + notDeclared)
			}
		},
		todo: func(c *context) string {
			return "Carry " + count(int(wanted(c)), "spare tube") + " of the size of the tyres."
		},
		mend: func(c *context) { made(&c.facts.Carry).Tubes = ptr(wanted(c)) },
	}
}
