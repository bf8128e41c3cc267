package readiness

import (
	"slices"

	"google.golang.org/protobuf/types/known/durationpb"

	pb "gritward/proto/gritward/v1"
)

// For judging many bikes the commonest checks are looked at in one go, part by part, rather than limit by limit. What
// they say is what the limits say: TestStandingIsThatOfAssess holds the one against the other, whatever the bike.

// span is how many days ago something may have been done; notAsked where that is not asked.
type span civilDay

const notAsked span = -1

func spanOf(within *durationpb.Duration) span {
	if within == nil {
		return notAsked
	}
	return span(within.AsDuration() / day)
}

// holds tells whether a day is near enough before another, and not after today.
func (s span) holds(c *context, on string, before civilDay) bool {
	if s == notAsked {
		return true
	}
	done := c.day(on)
	return done != noDay && done <= c.today && before-done <= civilDay(s)
}

// is tells whether a fact was declared and is so.
func is(fact *bool) bool { return fact != nil && *fact }

// isNot tells whether a fact was declared and is not so.
func isNot(fact *bool) bool { return fact != nil && !*fact }

// reaches tells whether a measure was declared and is enough, where one is asked.
func reaches(need, value *float64) bool {
	return need == nil || value != nil && *value >= *need
}

func quickGuards(rule *pb.Rule) func(*context) bool {
	need := rule.GetGuards()
	ends := [2]guardEnd{
		{end: pb.End_FRONT, cover: need.GetFront(), flap: need.GetFrontFlap()},
		{end: pb.End_REAR, cover: need.GetRear(), flap: need.GetRearFlap(), hub: need.GetRearToHub()},
	}
	return func(c *context) bool {
		return ends[0].quick(c, need) && ends[1].quick(c, need)
	}
}

func (e *guardEnd) quick(c *context, need *pb.GuardsNeed) bool {
	g := e.of(c.facts)
	if g == nil {
		return len(e.limits(need)) == 0
	}
	if g.Kind == pb.Guard_NONE {
		return e.cover == pb.GuardsNeed_COVER_UNSPECIFIED && !e.flap && !e.hub
	}
	switch {
	case e.cover != pb.GuardsNeed_COVER_UNSPECIFIED && g.Kind != pb.Guard_FIXED && (g.Kind != pb.Guard_CLIP_ON || e.cover != pb.GuardsNeed_ANY),
		e.flap && !is(g.Flap), e.hub && g.Reach != pb.Guard_HUB && g.Reach != pb.Guard_BELOW_HUB, need.Secure && !is(g.Secure),
		!reaches(need.ClearanceMm, g.ClearanceMm), e.end == pb.End_FRONT && !reaches(need.ToeGapMm, g.ToeGapMm):
		return false
	case need.WiderByMm == nil:
		return true
	}
	t := (tyreEnd{e.end}).of(c.facts)
	return g.WidthMm != nil && t != nil && t.WidthMm != nil && *g.WidthMm-*t.WidthMm >= *need.WiderByMm-rounding
}

func quickTyres(rule *pb.Rule) func(*context) bool {
	need, looked := rule.GetTyres(), spanOf(rule.GetTyres().GetLookedWithin())
	one := func(c *context, end pb.End) bool {
		t := (tyreEnd{end}).of(c.facts)
		if t == nil {
			t = &pb.Tyre{}
		}
		if !reaches(need.WidthMinMm, t.WidthMm) || !reaches(need.ClearanceMm, t.ClearanceMm) || need.HardWearing && !is(t.HardWearing) ||
			need.Tread != 0 && (t.Tread == 0 || t.Tread > need.Tread) || need.Cuts != 0 && (t.Cuts == 0 || t.Cuts > need.Cuts) ||
			!looked.holds(c, t.LookedOn, c.startDay) {
			return false
		}
		if need.WidthMaxRimMm == nil || t.WidthMm != nil && (*t.WidthMm <= *need.WidthMaxRimMm || t.ClearanceMm != nil) {
			return true
		}
		kind := (brakeEnd{end}).of(c.facts).GetKind()
		return kind != pb.Brake_KIND_UNSPECIFIED && kind != pb.Brake_RIM
	}
	return func(c *context) bool {
		return one(c, pb.End_FRONT) && one(c, pb.End_REAR) && (!need.SummerPairStored || stored(c.facts))
	}
}

func stored(f *pb.BikeFacts) bool { return f.GetTyres() != nil && is(f.Tyres.SummerPairStored) }

func quickBearings(rule *pb.Rule) func(*context) bool {
	need := rule.GetBearings()
	within, before := spanOf(need.GetServicedWithin()), spanOf(need.GetBeforeSeason())
	var asked [5]bool
	for i, b := range bearings() {
		asked[i] = len(need.GetWhich()) == 0 || slices.Contains(need.GetWhich(), b.place)
	}
	return func(c *context) bool {
		all, before := c.facts.GetBearings(), before
		if all == nil {
			all = noBearings
		}
		if c.seasonFrom == noDay {
			before = notAsked
		}
		for i, b := range [...]*pb.Bearing{all.Headset, all.BottomBracket, all.FrontHub, all.RearHub, all.Pedals} {
			if !asked[i] {
				continue
			}
			if need.Smooth && b.GetFeel() != pb.Bearing_SMOOTH || need.NoPlay && b.GetFeel() == pb.Bearing_LOOSE || within != notAsked && !within.holds(c, b.GetServicedOn(), c.startDay) ||
				before != notAsked && !before.holds(c, b.GetServicedOn(), c.seasonFrom) {
				return false
			}
		}
		return true
	}
}

// noBearings stands for those of which nothing was declared. Nothing changes it.
var noBearings = &pb.Bearings{}

func quickContact(rule *pb.Rule) func(*context) bool {
	need := rule.GetContact()
	return func(c *context) bool {
		of := c.facts.GetContact()
		if of == nil {
			return false
		}
		tape := of.Tape == pb.Contact_DOUBLE || of.Tape == pb.Contact_SINGLE && !need.TapeDouble
		cleats := is(of.CleatsSound) || of.Pedals == pb.Contact_FLAT || of.Pedals == pb.Contact_TOE_CLIPS
		return (tape || !need.TapeSound && !need.TapeDouble) && (!need.BarEndsPlugged || is(of.BarEndsPlugged)) &&
			(!need.SaddleSound || of.Saddle == pb.Contact_SOUND) && (!need.CleatsSound || cleats)
	}
}

func quickFrame(rule *pb.Rule) func(*context) bool {
	need, waxed := rule.GetFrame(), spanOf(rule.GetFrame().GetWaxedWithin())
	return func(c *context) bool {
		f := c.facts.GetFrame()
		return f != nil && (!need.NoOpenDamage || isNot(f.DamageOpen)) && waxed.holds(c, f.WaxedOn, c.startDay) &&
			(!need.ChainstayProtected || is(f.ChainstayProtected)) && (!need.CableRubProtected || is(f.CableRubProtected))
	}
}

func quickReflectors(rule *pb.Rule) func(*context) bool {
	need := rule.GetReflectors()
	return func(c *context) bool {
		r := c.facts.GetReflectors()
		return r != nil && (!need.Front || is(r.Front)) && (!need.Rear || is(r.Rear)) && (!need.Pedals || is(r.Pedals)) && (!need.Wheels || is(r.Wheels))
	}
}

func quickClean(rule *pb.Rule) func(*context) bool {
	need := rule.GetClean()
	washed, looked := spanOf(need.GetWashedWithin()), spanOf(need.GetLookedOverWithin())
	return func(c *context) bool {
		of := c.facts.GetCleaning()
		if of == nil {
			of = &pb.Cleaning{}
		}
		if need.SinceWetRide && c.lastWetRide != noDay && c.lastWetRide <= c.today {
			for _, on := range [...]string{of.WashedOn, of.LookedOverOn} {
				if done := c.day(on); done == noDay || done > c.today || done < c.lastWetRide {
					return false
				}
			}
		}
		return washed.holds(c, of.WashedOn, c.startDay) && looked.holds(c, of.LookedOverOn, c.startDay) &&
			(!need.NoOpenDamage && !need.FoundPutRight || of.DamageOpen == "") && (!need.NoOpenDamage || c.day(of.LookedOverOn) != noDay)
	}
}
