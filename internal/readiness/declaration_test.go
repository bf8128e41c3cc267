package readiness_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// TestDeclarationAge: the age counts at the start of the group, exactly the age allowed still counts.
func TestDeclarationAge(t *testing.T) {
	const days = 24 * time.Hour
	rule := &pb.Rule{Id: "declaration", Check: pb.Check_DECLARATION, When: []pb.Circumstance{pb.Circumstance_ALWAYS}, Otherwise: pb.Rule_HOLD}
	short := &pb.Rule{Id: "declaration", Check: pb.Check_DECLARATION, When: rule.When, Otherwise: pb.Rule_HOLD,
		Need: &pb.Rule_Declaration{Declaration: &pb.DeclarationNeed{Valid: durationpb.New(7 * days)}}}
	certified := func(at time.Time) *pb.Declaration { return &pb.Declaration{CertifiedAt: timestamppb.New(at)} }
	for name, c := range map[string]struct {
		rule        *pb.Rule
		declaration *pb.Declaration
		at          time.Time
		met, silent bool
		declared    string
	}{
		"exactly as old as allowed":     {rule, certified(start.Add(-28 * days)), evening, true, false, "certified on 15 November 2026, 09:00, 28 days before the start"},
		"a second too old":              {rule, certified(start.Add(-28*days - time.Second)), evening, false, false, "certified on 15 November 2026, 08:59, 28 days 1 s before the start"},
		"valid tonight, not at start":   {rule, certified(start.Add(-28*days - time.Hour)), evening, false, false, "certified on 15 November 2026, 08:00, 28 days 1 h before the start"},
		"a rule's own limit":            {short, certified(start.Add(-7 * days)), evening, true, false, "certified on 6 December 2026, 09:00, 7 days before the start"},
		"beyond a rule's own limit":     {short, certified(start.Add(-8 * days)), evening, false, false, "certified on 5 December 2026, 09:00, 8 days before the start"},
		"no declaration":                {rule, nil, evening, false, true, "not declared"},
		"never certified":               {rule, &pb.Declaration{}, evening, false, true, "not declared"},
		"a time that is none":           {rule, &pb.Declaration{CertifiedAt: &timestamppb.Timestamp{Seconds: 1 << 60}}, evening, false, true, "not declared"},
		"now":                           {rule, certified(evening), evening, true, false, "certified on 12 December 2026, 19:00, 14 h before the start"},
		"after the start, a late start": {rule, certified(start.Add(10 * time.Minute)), start.Add(15 * time.Minute), true, false, "certified on 13 December 2026, 09:10, 0 min before the start"},
		"after now":                     {rule, certified(evening.Add(time.Second)), evening, false, false, "certified on 12 December 2026, 19:00, which is after now, 12 December 2026, 19:00"},
	} {
		t.Run(name, func(t *testing.T) {
			a := readiness.Assess(book(c.rule), readiness.Subject{Declaration: c.declaration}, group(0, nil), c.at)
			f := a.GetFindings()[0]
			if met := f.GetStanding() == pb.Standing_CLEAR; met != c.met || f.GetNotDeclared() != c.silent || f.GetDeclared() != c.declared {
				t.Errorf("met %v, want %v; %v", met, c.met, f)
			}
		})
	}
}

// TestDeclarationEarlyCertifying: certifying today does not help a ride that is further off than a declaration counts.
func TestDeclarationEarlyCertifying(t *testing.T) {
	rule := &pb.Rule{Id: "declaration", Check: pb.Check_DECLARATION, When: []pb.Circumstance{pb.Circumstance_ALWAYS}, Otherwise: pb.Rule_HOLD}
	at := start.Add(-40 * 24 * time.Hour)
	bike := readiness.Subject{Declaration: &pb.Declaration{CertifiedAt: timestamppb.New(at)}}
	f := readiness.Assess(book(rule), bike, group(0, nil), at).GetFindings()[0]
	want := "Look the bike over and certify it again, not before 15 November 2026, 09:00."
	if f.GetRemedy() != want {
		t.Errorf("remedy %q\nwant   %q", f.GetRemedy(), want)
	}
}

// TestDatesAreLocal: dates are told in the zone of the judging.
func TestDatesAreLocal(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	rule := &pb.Rule{Id: "declaration", Check: pb.Check_DECLARATION, When: []pb.Circumstance{pb.Circumstance_ALWAYS}, Otherwise: pb.Rule_HOLD}
	bike := readiness.Subject{Declaration: &pb.Declaration{CertifiedAt: timestamppb.New(time.Date(2026, 12, 1, 3, 0, 0, 0, time.UTC))}}
	f := readiness.Assess(book(rule), bike, group(0, nil), evening.In(zone)).GetFindings()[0]
	if want := "certified on 30 November 2026, 22:00, 12 days before the start"; f.GetDeclared() != want {
		t.Errorf("declared %q, want %q", f.GetDeclared(), want)
	}
}
