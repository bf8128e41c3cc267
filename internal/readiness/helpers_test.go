package readiness_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// The ride of these tests: Sunday 13 December 2026, 09:00 UTC, judged the evening before.
var (
	start   = time.Date(2026, time.December, 13, 9, 0, 0, 0, time.UTC)
	evening = start.Add(-14 * time.Hour)
)

func ptr[T any](v T) *T { return &v }

// lightsRule asks for lamps in the dark, or the bike is held.
func lightsRule(need *pb.LightsNeed) *pb.Rule {
	return &pb.Rule{
		Id: "lights", Check: pb.Check_LIGHTS, When: []pb.Circumstance{pb.Circumstance_ALWAYS},
		Need: &pb.Rule_Lights{Lights: need}, Otherwise: pb.Rule_HOLD,
	}
}

// guardsRule asks for guards always, or the bike rides at the back.
func guardsRule(need *pb.GuardsNeed) *pb.Rule {
	return &pb.Rule{
		Id: "guards", Check: pb.Check_GUARDS, When: []pb.Circumstance{pb.Circumstance_ALWAYS},
		Need: &pb.Rule_Guards{Guards: need}, Otherwise: pb.Rule_BACK, Because: "Spray.",
	}
}

// book has the rules, half an hour in reserve, and declarations that count for 28 days.
func book(rules ...*pb.Rule) readiness.Book {
	b := readiness.Book{
		Lamp:             &pb.LampReckoning{Reserve: durationpb.New(30 * time.Minute)},
		DeclarationValid: 28 * 24 * time.Hour, Digest: "digest",
	}
	for i, rule := range rules {
		b.Rules = append(b.Rules, readiness.Rule{Rule: rule, Line: 10 + i})
	}
	return b
}

// subject is a bike certified the evening before.
func subject(facts *pb.BikeFacts) readiness.Subject {
	return readiness.Subject{Bike: "bike", Declaration: &pb.Declaration{
		Revision: 3, CertifiedAt: timestamppb.New(evening), Facts: facts,
	}}
}

// group needs lights for so many minutes and is dark if it needs any; temperature nil: not known.
func group(litMin float64, temperatureC *float64, more ...pb.Circumstance) *pb.GroupPlan {
	g := &pb.GroupPlan{
		Group: "steady", StartAt: timestamppb.New(start), LitMin: litMin, TemperatureMinC: temperatureC,
		Circumstances: append([]pb.Circumstance{pb.Circumstance_ALWAYS}, more...),
	}
	if litMin > 0 {
		g.Circumstances = append(g.Circumstances, pb.Circumstance_DARK)
	}
	return g
}

// finding judges a bike by one rule.
func finding(t *testing.T, b readiness.Book, s readiness.Subject, g *pb.GroupPlan) *pb.Finding {
	t.Helper()
	a := readiness.Assess(b, s, g, evening)
	if len(a.GetFindings()) != 1 {
		t.Fatalf("%d findings: %v", len(a.GetFindings()), a)
	}
	if got := readiness.Standing(b, s, g, evening); got != a.GetStanding() {
		t.Errorf("standing %v, of the findings %v", got, a.GetStanding())
	}
	f := a.GetFindings()[0]
	if f.GetStanding() != a.GetStanding() {
		t.Errorf("standing %v of the only finding, %v of all", f.GetStanding(), a.GetStanding())
	}
	if met := f.GetStanding() == pb.Standing_CLEAR; met != (f.GetRemedy() == "") || met && f.GetNotDeclared() {
		t.Errorf("standing %v, remedy %q, not declared %v", f.GetStanding(), f.GetRemedy(), f.GetNotDeclared())
	}
	if f.GetNeeded() == "" || f.GetDeclared() == "" {
		t.Errorf("needed %q, declared %q", f.GetNeeded(), f.GetDeclared())
	}
	return f
}

func rear(runtimeMin float64) *pb.Light {
	return &pb.Light{End: pb.End_REAR, RuntimeMin: ptr(runtimeMin)}
}

func lamps(lights ...*pb.Light) *pb.BikeFacts { return &pb.BikeFacts{Lights: lights} }
