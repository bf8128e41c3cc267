package readiness_test

import (
	"testing"
	"time"

	pb "gritward/proto/gritward/v1"
)

// TestDefaults holds the limits of the shipped policy to what is published, or says that nothing is.
func TestDefaults(t *testing.T) {
	rules := map[string]*pb.Rule{}
	for _, rule := range winterBook(t).Rules {
		rules[rule.GetId()] = rule.Rule
	}
	wear := rules["chain-wear"].GetChain().GetWear()
	days := func(n int) float64 { return float64(n) * 24 * float64(time.Hour) }
	within := func(span interface{ AsDuration() time.Duration }) float64 { return float64(span.AsDuration()) }
	for _, c := range []struct {
		what      string
		got, want float64
		source    string
	}{
		{"flashes a minute, least", rules["flashing-lights"].GetLights().GetFlashesMin(), 60, "Department for Transport on SI 2005/2559, quoted"},
		{"flashes a minute, most", rules["flashing-lights"].GetLights().GetFlashesMax(), 240, "Department for Transport on SI 2005/2559, quoted"},
		{"candela of a flashing lamp", rules["flashing-lights"].GetLights().GetFlashingCandela(), 4, "Road Vehicles Lighting Regulations 1989, reg 13(2)(g) and (h)"},
		{"lumens of a front lamp on an unlit road", rules["bright-front-light"].GetLights().GetFrontLumens(), 400, "retail guides, 400 to 1,000; they disagree"},
		{"gap of a guard, mm", rules["guard-fit"].GetGuards().GetClearanceMm(), 4, "EN 14781, 4.10.2, quoted: racing bicycles"},
		{"guard wider than its tyre, mm", rules["guard-fit"].GetGuards().GetWiderByMm(), 8, "trade practice, about 8 to 12"},
		{"gap of a tyre, mm", rules["tyre-gap"].GetTyres().GetClearanceMm(), 4, "EN 14781, 4.10.2, quoted: racing bicycles"},
		{"width of a winter tyre, least, mm", rules["winter-tyres"].GetTyres().GetWidthMinMm(), 28, "common practice, from memory"},
		{"width of a winter tyre with rim brakes, most, mm", rules["winter-tyres"].GetTyres().GetWidthMaxRimMm(), 32, "common practice, from memory"},
		{"friction material of a disc pad, mm", rules["brakes"].GetBrakes().GetDiscPadMm(), 0.5, "trade, several: renew at 0.5 or less"},
		{"friction material of a rim block, mm", rules["brakes"].GetBrakes().GetRimPadMm(), 1, "common practice, no source"},
		{"disc on which nothing is etched, mm", rules["brake-discs"].GetBrakes().GetRotorMm(), 1.5, "trade; others 1.52 and 1.55"},
		{"chain wear, one sprocket, %", wear[0].GetPct(), 1, "common practice, from memory: single speed and hub gears"},
		{"chain wear, up to 10 sprockets, %", wear[1].GetPct(), 0.75, "tool and workshop guides: 8 to 10"},
		{"chain wear, from 11 sprockets, %", wear[2].GetPct(), 0.5, "tool and workshop guides: 11 and 12"},
		{"sprockets from which 0.5 % holds", float64(wear[2].GetSpeedsFrom()), 11, "tool and workshop guides"},
		{"lamps charged within", within(rules["lights-charged"].GetLights().GetChargedWithin()), days(14), "common practice, no source"},
		{"chain lubricated within", within(rules["chain-lubricated"].GetChain().GetLubricatedWithin()), days(21), "common practice, no source"},
		{"brakes checked within", within(rules["brakes-checked"].GetBrakes().GetLookedWithin()), days(35), "common practice, no source"},
		{"bearings serviced before the season", within(rules["bearings-before-winter"].GetBearings().GetBeforeSeason()), days(92), "common practice, no source"},
		{"frame waxed within", within(rules["frame-protection"].GetFrame().GetWaxedWithin()), days(365), "common practice, no source"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v (%s)", c.what, c.got, c.want, c.source)
		}
	}
	guards := rules["guards"].GetGuards() // practice of clubs: full guards, a flap to at least the height of the rear hub
	if guards.GetFront() != pb.GuardsNeed_FULL || guards.GetRear() != pb.GuardsNeed_FULL || !guards.GetRearFlap() || !guards.GetRearToHub() {
		t.Errorf("guards %v", guards)
	}
	brakes := rules["brakes"].GetBrakes() // SI 1983/1176 reg 7(1)(b); makers' manuals
	if !brakes.GetBothEnds() || !brakes.GetRimWithin() || !brakes.GetClean() || !rules["brake-discs"].GetBrakes().GetRotorAsEtched() {
		t.Errorf("brakes %v", brakes)
	}
}

// TestWinterHoldsOnlyForDanger: what holds a bike is what is dangerous; guards put it at the back; all else is advice.
func TestWinterHoldsOnlyForDanger(t *testing.T) {
	want := map[string]pb.Rule_Consequence{
		"front-light": pb.Rule_HOLD, "rear-light": pb.Rule_HOLD, "brakes": pb.Rule_HOLD, "tyres": pb.Rule_HOLD,
		"frame-damage": pb.Rule_HOLD, "guards-secure": pb.Rule_HOLD, "known-damage": pb.Rule_HOLD, "bearings-without-play": pb.Rule_HOLD, "declaration": pb.Rule_HOLD, "guards": pb.Rule_BACK,
	}
	checks := map[pb.Check]bool{}
	for _, rule := range winterBook(t).Rules {
		checks[rule.GetCheck()] = true
		expected := pb.Rule_ADVISE
		if w, ok := want[rule.GetId()]; ok {
			expected = w
		}
		if rule.GetOtherwise() != expected {
			t.Errorf("%s: %v, want %v", rule.GetId(), rule.GetOtherwise(), expected)
		}
		if rule.GetBecause() == "" {
			t.Errorf("%s does not say why", rule.GetId())
		}
	}
	if len(checks) != 12 {
		t.Errorf("the shipped policy uses %d checks, want all but expressions: 12", len(checks))
	}
}
