// Package readinesstest has what readiness is measured beside: a bike, the shipped policy, and the same rules written by hand.
package readinesstest

import (
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"gritward/internal/policy"
	"gritward/internal/readiness"
	"gritward/internal/strictyaml"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// WholeBike meets the shipped policy.
func WholeBike(t testing.TB) *pb.BikeFacts {
	t.Helper()
	text, err := os.ReadFile("../../testdata/readiness/whole-bike.yaml") // of a package two folders down
	if err != nil {
		t.Fatal(err)
	}
	facts := &pb.BikeFacts{}
	if _, problems := strictyaml.Decode("whole-bike.yaml", text, facts, strictyaml.Options{What: "bike"}); len(problems) > 0 {
		t.Fatal(strictyaml.Format(problems))
	}
	return facts
}

// WinterBook is the shipped policy.
func WinterBook(t testing.TB) readiness.Book {
	t.Helper()
	p, problems := policy.Read("winter.yaml", policyfile.Winter)
	if p == nil {
		t.Fatal(strictyaml.Format(problems))
	}
	return p.Book()
}

// Measured are the 25 rules of the shipped policy by which speed is measured: of every check, and all of them asked of a
// bike on a night in the season.
func Measured(t testing.TB) readiness.Book {
	ids := []string{
		"front-light", "rear-light", "bright-front-light", "reflectors", "guards", "guards-secure", "guard-fit",
		"contact-points", "double-tape", "brakes", "brake-discs", "brake-pads-bedded-in", "brake-pads-for-wet",
		"brakes-checked", "chain-wear", "chain-lubricated", "bearings-smooth", "bearings-before-winter", "frame-damage",
		"frame-protection", "tyres", "winter-tyres", "looked-over", "spares-and-kit", "declaration",
	}
	b := WinterBook(t)
	b.Rules = slices.DeleteFunc(b.Rules, func(r readiness.Rule) bool { return !slices.Contains(ids, r.GetId()) })
	if len(b.Rules) != 25 {
		t.Fatalf("%d rules", len(b.Rules))
	}
	return b
}

// Thresholds are the days before which work is too old for a group, and the day of judging: somebody who writes by hand
// works them out once for a group, not for each bike.
type Thresholds struct{ d21, d35, d365, today string }

// NewThresholds works them out for a group, judged at an instant.
func NewThresholds(g *pb.GroupPlan, at time.Time) Thresholds {
	ago := func(days int) string {
		return g.GetStartAt().AsTime().In(at.Location()).AddDate(0, 0, -days).Format(time.DateOnly)
	}
	return Thresholds{ago(21), ago(35), ago(365), at.Format(time.DateOnly)}
}

func (d Thresholds) since(on, from string) bool { return on >= from && on <= d.today }

// ByHand is what somebody would write who had only these 25 rules, and told nobody why: the yardstick of speed.
func ByHand(bike *pb.Declaration, g *pb.GroupPlan, d Thresholds, at time.Time) pb.Standing {
	f := bike.GetFacts()
	age := g.GetStartAt().AsTime().Sub(bike.GetCertifiedAt().AsTime())
	brake := func(b *pb.Brake) bool {
		switch b.GetKind() {
		case pb.Brake_DISC:
			return b.PadMm != nil && *b.PadMm >= 0.5 && b.Contaminated != nil && !*b.Contaminated && b.Glazed != nil && !*b.Glazed
		case pb.Brake_RIM:
			return b.PadMm != nil && *b.PadMm >= 1 && b.RimWear == pb.Brake_WITHIN && b.Contaminated != nil && !*b.Contaminated && b.Glazed != nil && !*b.Glazed
		default:
			return b.GetKind() == pb.Brake_HUB
		}
	}
	tyre := func(t *pb.Tyre) bool {
		return t.GetTread() > 0 && t.Tread <= pb.Tyre_WORN && t.Cuts > 0 && t.Cuts <= pb.Tyre_SMALL
	}
	rearOK := brake(f.GetBrakes().GetRear()) || f.GetBrakes().GetRear().GetKind() == pb.Brake_FIXED_WHEEL
	loose := func(g *pb.Guard) bool { return g.GetKind() != pb.Guard_NONE && !g.GetSecure() }
	front, rear := f.GetGuards().GetFront(), f.GetGuards().GetRear()
	switch {
	case !lampsByHand(f.GetLights(), pb.End_FRONT, g), !lampsByHand(f.GetLights(), pb.End_REAR, g),
		loose(front), loose(rear), !brake(f.GetBrakes().GetFront()), !rearOK,
		f.GetFrame() == nil || f.Frame.DamageOpen == nil || *f.Frame.DamageOpen,
		!tyre(f.GetTyres().GetFront()), !tyre(f.GetTyres().GetRear()),
		age > 28*24*time.Hour || bike.GetCertifiedAt().AsTime().After(at):
		return pb.Standing_HELD
	case front.GetKind() != pb.Guard_FIXED, rear.GetKind() != pb.Guard_FIXED, !rear.GetFlap(),
		rear.GetReach() != pb.Guard_HUB && rear.GetReach() != pb.Guard_BELOW_HUB:
		return pb.Standing_BACK
	case adviceByHand(f, d):
		return pb.Standing_ADVISED
	}
	return pb.Standing_CLEAR
}

func lampsByHand(lights []*pb.Light, end pb.End, g *pb.GroupPlan) bool {
	need, left, sum, lamps := g.GetLitMin()+30, 0.85+2*(1-0.85)/20, 0.0, 0
	for _, l := range lights {
		if l.End != end {
			continue
		}
		lamps++
		if l.Power == pb.Light_DYNAMO {
			return true
		}
		sum += l.GetRuntimeMin() * left
	}
	return lamps > 0 && sum >= need-1e-6
}

func adviceByHand(f *pb.BikeFacts, d Thresholds) bool {
	fit := func(g *pb.Guard, t *pb.Tyre) bool {
		return g.ClearanceMm != nil && *g.ClearanceMm >= 4 && g.WidthMm != nil && t != nil && t.WidthMm != nil && *g.WidthMm-*t.WidthMm >= 8-1e-9
	}
	brake := func(b *pb.Brake) bool {
		ok := b.Kind == pb.Brake_FIXED_WHEEL || d.since(b.LookedOn, d.d35)
		if b.Kind != pb.Brake_DISC {
			return ok
		}
		least := 1.5
		if b.RotorMinMm != nil {
			least = *b.RotorMinMm
		}
		good := b.Compound == pb.Brake_SINTERED || b.Compound == pb.Brake_SEMI_METALLIC
		if b.GetResinOnly() {
			good = b.Compound == pb.Brake_RESIN
		}
		return ok && good && b.RotorMm != nil && *b.RotorMm >= least && b.GetBeddedIn()
	}
	tyre := func(t *pb.Tyre, b *pb.Brake) bool {
		wide := t.WidthMm != nil && *t.WidthMm > 32 && t.ClearanceMm == nil && b.Kind == pb.Brake_RIM
		return t.WidthMm != nil && *t.WidthMm >= 28 && !wide && t.GetHardWearing()
	}
	bearing := func(b *pb.Bearing) bool {
		return b.GetFeel() == pb.Bearing_SMOOTH && d.since(b.ServicedOn, "2026-07-01")
	}
	limit := 0.5
	switch s := f.GetChain().GetSpeeds(); {
	case s < 2:
		limit = 1
	case s < 11:
		limit = 0.75
	}
	bright := false
	for _, l := range f.GetLights() {
		bright = bright || l.End == pb.End_FRONT && l.GetLumens() >= 400
	}
	c, k, brakes, tyres := f.GetContact(), f.GetCarry(), f.GetBrakes(), f.GetTyres()
	b := f.GetBearings()
	return !bright ||
		!f.GetReflectors().GetRear() || !f.GetReflectors().GetPedals() ||
		!fit(f.Guards.Front, tyres.Front) || !fit(f.Guards.Rear, tyres.Rear) ||
		c.GetTape() != pb.Contact_DOUBLE || !c.GetBarEndsPlugged() || c.GetSaddle() != pb.Contact_SOUND ||
		!(c.GetCleatsSound() || c.GetPedals() == pb.Contact_FLAT || c.GetPedals() == pb.Contact_TOE_CLIPS) ||
		!brake(brakes.Front) || !brake(brakes.Rear) || !tyre(tyres.Front, brakes.Front) || !tyre(tyres.Rear, brakes.Rear) ||
		f.GetChain() == nil || f.Chain.WearPct == nil || *f.Chain.WearPct >= limit || !d.since(f.Chain.LubricatedOn, d.d21) ||
		f.Chain.Lubricant != pb.Chain_WET && f.Chain.Lubricant != pb.Chain_WAX ||
		!bearing(b.GetHeadset()) || !bearing(b.GetBottomBracket()) || !bearing(b.GetFrontHub()) || !bearing(b.GetRearHub()) || !bearing(b.GetPedals()) ||
		!d.since(f.Frame.WaxedOn, d.d365) || !f.Frame.GetChainstayProtected() || !f.Frame.GetCableRubProtected() ||
		f.GetCleaning() == nil || !d.since(f.Cleaning.LookedOverOn, d.d35) || f.Cleaning.DamageOpen != "" ||
		k.GetTubes() < 2 && !(k.GetTubes() == 1 && tyres.Front.GetTubeless() && tyres.Rear.GetTubeless()) || !k.GetPump() || !k.GetTyreLevers() || !k.GetMultiTool() || !k.GetPhone() || !k.GetContactCard() || !k.GetWarmLayer()
}

// Best is the time that f takes once, ns: the least mean of many short turns, which other work on the machine disturbs
// least.
func Best(turns int, f func()) float64 {
	const each = 20
	least := math.Inf(1)
	for range turns {
		began := time.Now()
		for range each {
			f()
		}
		least = min(least, float64(time.Since(began))/each)
	}
	return least
}
