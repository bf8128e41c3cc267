package readiness_test

import (
	"slices"
	"strings"
	"testing"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// TestApplies: a rule applies when any circumstance of "when" holds and none of "unless" does.
func TestApplies(t *testing.T) {
	const (
		always, season, dark, wet, dry = pb.Circumstance_ALWAYS, pb.Circumstance_SEASON, pb.Circumstance_DARK, pb.Circumstance_WET, pb.Circumstance_DRY
		poor                           = pb.Circumstance_POOR_VISIBILITY
	)
	type list = []pb.Circumstance
	for name, c := range map[string]struct {
		when, unless, holds list
		applies             bool
		named               string
	}{
		"always":               {list{always}, nil, list{always}, true, ""},
		"always, nothing said": {list{always}, nil, nil, true, ""},
		"one of two":           {list{season, wet}, nil, list{always, wet}, true, ""},
		"neither of two":       {list{dark, poor}, nil, list{always, wet}, false, "guards: when dark or poor-visibility"},
		"unless holds":         {list{season}, list{dry}, list{always, season, dry}, false, "guards: when season, unless dry"},
		"unless does not hold": {list{season}, list{dry}, list{always, season, wet}, true, ""},
		"any of unless":        {list{always}, list{dark, poor, dry}, list{poor}, false, "guards: when always, unless dark, poor-visibility or dry"},
		"never":                {list{always}, list{always}, list{always}, false, "guards: when always, unless always"},
	} {
		t.Run(name, func(t *testing.T) {
			rule := guardsRule(&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL})
			rule.When, rule.Unless = c.when, c.unless
			a := readiness.Assess(book(rule), subject(nil), &pb.GroupPlan{Circumstances: c.holds}, evening)
			if applied := len(a.GetFindings()) == 1; applied != c.applies {
				t.Fatalf("applied %v", applied)
			}
			if c.applies {
				return
			}
			if a.GetStanding() != pb.Standing_CLEAR || !slices.Equal(a.GetNotApplied(), []string{c.named}) {
				t.Errorf("standing %v, not applied %q", a.GetStanding(), a.GetNotApplied())
			}
		})
	}
}

// TestWorst: the standing is the worst of what the rules cost, and findings keep the policy's order.
func TestWorst(t *testing.T) {
	rule := func(id string, otherwise pb.Rule_Consequence) *pb.Rule {
		r := guardsRule(&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL})
		r.Id, r.Otherwise = id, otherwise
		return r
	}
	advise, back, hold := rule("advise", pb.Rule_ADVISE), rule("back", pb.Rule_BACK), rule("hold", pb.Rule_HOLD)
	a := readiness.Assess(book(back, hold, advise), subject(nil), group(0, nil), evening)
	if a.GetStanding() != pb.Standing_HELD {
		t.Errorf("standing %v", a.GetStanding())
	}
	for i, want := range []struct {
		id       string
		standing pb.Standing
	}{
		{"back", pb.Standing_BACK},
		{"hold", pb.Standing_HELD},
		{"advise", pb.Standing_ADVISED},
	} {
		f := a.GetFindings()[i]
		if f.GetRule() != want.id || f.GetStanding() != want.standing || f.GetRemedy() != "Declare how the rear guard is fixed." {
			t.Errorf("finding %d: %v", i, f)
		}
	}
	for setAside, want := range map[string]pb.Standing{"hold": pb.Standing_BACK, "back": pb.Standing_HELD, "other": pb.Standing_HELD} {
		if got := readiness.Worst(a.GetFindings(), map[string]bool{setAside: true}); got != want {
			t.Errorf("without %s: %v, want %v", setAside, got, want)
		}
	}
	if got := readiness.Worst(nil, nil); got != pb.Standing_CLEAR {
		t.Errorf("of nothing: %v", got)
	}
}

// TestRecord: an assessment says what it is about.
func TestRecord(t *testing.T) {
	a := readiness.Assess(book(), subject(nil), group(0, nil), evening)
	if a.GetBike() != "bike" || a.GetDeclarationRevision() != 3 || a.GetGroup() != "steady" || a.GetPolicyDigest() != "digest" || !a.GetAssessedAt().AsTime().Equal(evening) {
		t.Errorf("%v", a)
	}
	if a := readiness.Assess(book(), readiness.Subject{}, nil, evening); a.GetGroup() != "" || a.GetStanding() != pb.Standing_CLEAR {
		t.Errorf("without a ride: %v", a)
	}
}

// TestUnknownCheck: a rule that the program cannot judge is not met, and an unknown consequence holds the bike.
func TestUnknownCheck(t *testing.T) {
	rule := guardsRule(nil)
	rule.Check, rule.Need, rule.Otherwise = pb.Check_BRAKES, nil, 77
	f := finding(t, book(rule), subject(&pb.BikeFacts{}), group(0, nil))
	if f.GetStanding() != pb.Standing_HELD || !strings.Contains(f.GetRemedy(), "does not know the check brakes") {
		t.Errorf("%v", f)
	}
}

// TestEveryKnownCheck: each check of the table judges a bike of which nothing was declared, and does not clear it.
func TestEveryKnownCheck(t *testing.T) {
	if len(readiness.Known()) == 0 {
		t.Fatal("no checks")
	}
	for _, check := range readiness.Known() {
		rule := &pb.Rule{Id: "r", Check: check, When: []pb.Circumstance{pb.Circumstance_ALWAYS}, Otherwise: pb.Rule_BACK}
		switch check {
		case pb.Check_GUARDS:
			rule.Need = &pb.Rule_Guards{Guards: &pb.GuardsNeed{Front: pb.GuardsNeed_ANY}}
		case pb.Check_LIGHTS:
			rule.Need = &pb.Rule_Lights{Lights: &pb.LightsNeed{Front: 1}}
		case pb.Check_REFLECTORS:
			rule.Need = &pb.Rule_Reflectors{Reflectors: &pb.ReflectorsNeed{Rear: true}}
		case pb.Check_BRAKES:
			rule.Need = &pb.Rule_Brakes{Brakes: &pb.BrakesNeed{BothEnds: true}}
		case pb.Check_TYRES:
			rule.Need = &pb.Rule_Tyres{Tyres: &pb.TyresNeed{Tread: pb.Tyre_WORN}}
		case pb.Check_CHAIN:
			rule.Need = &pb.Rule_Chain{Chain: &pb.ChainNeed{Lubricant: []pb.Chain_Lubricant{pb.Chain_WET}}}
		case pb.Check_BEARINGS:
			rule.Need = &pb.Rule_Bearings{Bearings: &pb.BearingsNeed{Smooth: true}}
		case pb.Check_CONTACT:
			rule.Need = &pb.Rule_Contact{Contact: &pb.ContactNeed{TapeSound: true}}
		case pb.Check_FRAME:
			rule.Need = &pb.Rule_Frame{Frame: &pb.FrameNeed{NoOpenDamage: true}}
		case pb.Check_CLEAN:
			rule.Need = &pb.Rule_Clean{Clean: &pb.CleanNeed{NoOpenDamage: true}}
		case pb.Check_CARRY:
			rule.Need = &pb.Rule_Carry{Carry: &pb.CarryNeed{Pump: true}}
		case pb.Check_EXPRESSION:
			rule.Need = &pb.Rule_Expression{Expression: "bike.odometer_km < 20000.0"}
		}
		f := finding(t, book(rule), readiness.Subject{}, group(10, nil))
		if f.GetStanding() != pb.Standing_BACK || !f.GetNotDeclared() || f.GetDeclared() != "not declared" {
			t.Errorf("%v: %v", check, f)
		}
	}
}
