package readiness

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

func quickBrakes(rule *pb.Rule) func(*context) bool {
	need := rule.GetBrakes()
	asked := brakesAsked{
		need: need, looked: spanOf(need.GetLookedWithin()), rim: need.RimPadMm != nil || need.RimWithin,
		disc: need.DiscPadMm != nil || need.BeddedIn || len(need.DiscCompound) > 0 || need.RotorAsEtched || need.RotorMm != nil,
	}
	return func(c *context) bool {
		both := c.facts.GetBrakes()
		return asked.of(c, both.GetFront(), pb.End_FRONT) && asked.of(c, both.GetRear(), pb.End_REAR)
	}
}

// brakesAsked is what a rule asks of brakes, and whether anything of those of one kind.
type brakesAsked struct {
	need      *pb.BrakesNeed
	looked    span
	disc, rim bool
}

// noBrake stands for a brake of which nothing was declared. Nothing changes it.
var noBrake = &pb.Brake{}

func (a *brakesAsked) of(c *context, b *pb.Brake, end pb.End) bool {
	if b == nil {
		b = noBrake
	}
	need := a.need
	unknown := b.Kind == pb.Brake_KIND_UNSPECIFIED // then all is asked
	if need.BothEnds && (unknown || b.Kind == pb.Brake_NONE || b.Kind == pb.Brake_FIXED_WHEEL && end == pb.End_FRONT) {
		return false
	}
	if a.disc && (unknown || b.Kind == pb.Brake_DISC) && !quickDisc(c, need, b, end) {
		return false
	}
	if a.rim && (unknown || b.Kind == pb.Brake_RIM) {
		if need.RimPadMm != nil && !c.log.has(fromPadsNew.at(end)) && !reaches(need.RimPadMm, b.PadMm) || need.RimWithin && b.RimWear != pb.Brake_WITHIN {
			return false
		}
	}
	switch b.Kind {
	case pb.Brake_NONE, pb.Brake_FIXED_WHEEL:
		return true
	case pb.Brake_HUB:
	default:
		if need.Clean && !(isNot(b.Contaminated) && isNot(b.Glazed)) {
			return false
		}
	}
	return a.looked == notAsked || a.looked.holds(c, b.LookedOn, c.startDay)
}

func quickDisc(c *context, need *pb.BrakesNeed, b *pb.Brake, end pb.End) bool {
	if need.DiscPadMm != nil && !c.log.has(fromPadsNew.at(end)) && !reaches(need.DiscPadMm, b.PadMm) || need.BeddedIn && !is(b.BeddedIn) {
		return false
	}
	if len(need.DiscCompound) > 0 {
		if b.Compound == 0 || is(b.ResinOnly) && b.Compound != pb.Brake_RESIN || !is(b.ResinOnly) && !slices.Contains(need.DiscCompound, b.Compound) {
			return false
		}
	}
	if !need.RotorAsEtched && need.RotorMm == nil || c.log.has(fromRotorNew.at(end)) {
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
