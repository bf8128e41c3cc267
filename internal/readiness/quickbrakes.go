package readiness

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

func quickBrakes(rule *pb.Rule) func(*context) bool {
	need, looked := rule.GetBrakes(), spanOf(rule.GetBrakes().GetLookedWithin())
	return func(c *context) bool {
		return brakeEnd{pb.End_FRONT}.quick(c, need, looked) && brakeEnd{pb.End_REAR}.quick(c, need, looked)
	}
}

// noBrake stands for a brake of which nothing was declared. Nothing changes it.
var noBrake = &pb.Brake{}

func (e brakeEnd) quick(c *context, need *pb.BrakesNeed, looked span) bool {
	b := e.of(c.facts)
	if b == nil {
		b = noBrake
	}
	unknown := b.Kind == pb.Brake_KIND_UNSPECIFIED // then all is asked
	if need.BothEnds && (unknown || b.Kind == pb.Brake_NONE || b.Kind == pb.Brake_FIXED_WHEEL && e.end == pb.End_FRONT) {
		return false
	}
	if unknown || b.Kind == pb.Brake_DISC {
		if !e.quickDisc(c, need, b) {
			return false
		}
	}
	if unknown || b.Kind == pb.Brake_RIM {
		if need.RimPadMm != nil && !c.log.has(fromPadsNew.at(e.end)) && !reaches(need.RimPadMm, b.PadMm) || need.RimWithin && b.RimWear != pb.Brake_WITHIN {
			return false
		}
	}
	clean := !need.Clean || isNot(b.Contaminated) && isNot(b.Glazed)
	switch b.Kind {
	case pb.Brake_NONE, pb.Brake_FIXED_WHEEL:
		return true
	case pb.Brake_HUB:
		return looked.holds(c, b.LookedOn, c.startDay)
	default:
		return clean && looked.holds(c, b.LookedOn, c.startDay)
	}
}

func (e brakeEnd) quickDisc(c *context, need *pb.BrakesNeed, b *pb.Brake) bool {
	if need.DiscPadMm != nil && !c.log.has(fromPadsNew.at(e.end)) && !reaches(need.DiscPadMm, b.PadMm) || need.BeddedIn && !is(b.BeddedIn) {
		return false
	}
	if len(need.DiscCompound) > 0 {
		if b.Compound == 0 || is(b.ResinOnly) && b.Compound != pb.Brake_RESIN || !is(b.ResinOnly) && !slices.Contains(need.DiscCompound, b.Compound) {
			return false
		}
	}
	if !need.RotorAsEtched && need.RotorMm == nil || c.log.has(fromRotorNew.at(e.end)) {
		return true
	}
	least := b.RotorMinMm
	switch {
	case least == nil:
		least = need.RotorMm
	case !need.RotorAsEtched:
		return true
	}
	return least != nil && reaches(least, b.RotorMm)
}
