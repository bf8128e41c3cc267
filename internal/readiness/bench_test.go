package readiness_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// measured are the 25 rules of the shipped policy by which speed is measured: of every check, and all of them asked of a
// bike on a night in the season.
func measured(t testing.TB) readiness.Book {
	ids := []string{
		"front-light", "rear-light", "bright-front-light", "reflectors", "guards", "guards-secure", "guard-fit",
		"contact-points", "double-tape", "brakes", "brake-discs", "brake-pads-bedded-in", "brake-pads-for-wet",
		"brakes-checked", "chain-wear", "chain-lubricated", "bearings-smooth", "bearings-before-winter", "frame-damage",
		"frame-protection", "tyres", "winter-tyres", "looked-over", "spares-and-kit", "declaration",
	}
	b := winterBook(t)
	b.Rules = slices.DeleteFunc(b.Rules, func(r readiness.Rule) bool { return !slices.Contains(ids, r.GetId()) })
	if len(b.Rules) != 25 {
		t.Fatalf("%d rules", len(b.Rules))
	}
	return b
}

// thresholds are the days before which work is too old for a group, and the day of judging: somebody who writes by hand
// works them out once for a group, not for each bike.
type thresholds struct{ d21, d35, d365, today string }

func newThresholds(g *pb.GroupPlan, at time.Time) thresholds {
	ago := func(days int) string {
		return g.GetStartAt().AsTime().In(at.Location()).AddDate(0, 0, -days).Format(time.DateOnly)
	}
	return thresholds{ago(21), ago(35), ago(365), at.Format(time.DateOnly)}
}

func (d thresholds) since(on, from string) bool { return on >= from && on <= d.today }

// byHand is what somebody would write who had only these 25 rules, and told nobody why: the yardstick of speed.
func byHand(bike *pb.Declaration, g *pb.GroupPlan, d thresholds, at time.Time) pb.Standing {
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

func adviceByHand(f *pb.BikeFacts, d thresholds) bool {
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

// TestByHandIsTheSame: the yardstick says what the policy says, or it would be the wrong one.
func TestByHandIsTheSame(t *testing.T) {
	b, whole, g := measured(t), wholeBike(t), winterNight(145)
	days, seen := newThresholds(g, evening), map[pb.Standing]int{}
	rapid.Check(t, func(t *rapid.T) {
		bike := drawBike(t, whole)
		bike.Care = nil
		if f := bike.Declaration.GetFacts(); f.GetChain() != nil && f.Chain.Speeds == nil {
			f.Chain.Speeds = ptr(int32(11)) // what counts of a chain of unknown sprockets nobody writes by hand
		}
		want := readiness.Standing(b, bike, g, evening)
		seen[want]++
		if got := byHand(bike.Declaration, g, days, evening); got != want {
			t.Fatalf("by hand %v, by the policy %v", got, want)
		}
	})
	t.Log(seen)
}

// best is the time that f takes once, ns: the least mean of many short turns, which other work on the machine disturbs
// least.
func best(turns int, f func()) float64 {
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

// BenchmarkBeside measures one bike that meets 25 rules, so that each must be looked at, beside its limits: by hand, without
// findings (limit: five times by hand), with every finding (limit: 5,000 ns), and by the same rules as CEL expressions (at least 50 times as long).
func BenchmarkBeside(b *testing.B) {
	rules, g := measured(b), winterNight(145)
	bike := readiness.Subject{Bike: "bike", Declaration: &pb.Declaration{Facts: wholeBike(b), CertifiedAt: timestamppb.New(evening)}}
	days := newThresholds(g, evening)
	if byHand(bike.Declaration, g, days, evening) != pb.Standing_CLEAR || readiness.Standing(rules, bike, g, evening) != pb.Standing_CLEAR {
		b.Fatal("the bike does not meet the rules")
	}
	inCEL := celRules(b)
	if !inCEL(bike.Declaration.GetFacts(), g) {
		b.Fatal("the bike does not meet the expressions")
	}
	hand, standing, findings, expressions := math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1)
	for b.Loop() {
		hand = min(hand, best(50, func() { byHand(bike.Declaration, g, days, evening) }))
		standing = min(standing, best(50, func() { readiness.Standing(rules, bike, g, evening) }))
		expressions = min(expressions, best(5, func() { inCEL(bike.Declaration.GetFacts(), g) }))
		findings = min(findings, best(50, func() { readiness.Assess(rules, bike, g, evening) }))
	}
	b.ReportMetric(expressions/standing, "×faster-than-CEL(limit-50)")
	b.ReportMetric(hand, "ns-by-hand")
	b.ReportMetric(standing, "ns-standing")
	b.ReportMetric(standing/hand, "×by-hand(limit-5)")
	b.ReportMetric(findings, "ns-findings(limit-5000)")
}

// BenchmarkJudging measures what else is judged: a bike with a care log, one of which nothing is declared, and what would
// lift it.
func BenchmarkJudging(b *testing.B) {
	rules, g := measured(b), winterNight(145)
	whole := readiness.Subject{Bike: "bike", Declaration: &pb.Declaration{Facts: wholeBike(b), CertifiedAt: timestamppb.New(evening)}}
	logged := whole
	logged.Care = []*pb.CareEntry{{Work: pb.CareEntry_WASHED, DoneOn: "2026-12-12", RecordedAt: timestamppb.New(evening)}}
	nothing := readiness.Subject{Bike: "bike"}
	for name, f := range map[string]func(){
		"findings":                  func() { readiness.Assess(rules, whole, g, evening) },
		"findings-with-a-care-log":  func() { readiness.Assess(rules, logged, g, evening) },
		"findings-nothing-declared": func() { readiness.Assess(rules, nothing, g, evening) },
		"standing":                  func() { readiness.Standing(rules, whole, g, evening) },
		"lifts-nothing-declared":    func() { readiness.Lifts(rules, nothing, g, evening) },
	} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f()
			}
		})
	}
}
