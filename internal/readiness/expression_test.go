package readiness_test

import (
	"strings"
	"testing"
	"time"

	"cel.dev/cel-go/cel"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

func expressionRule(text, because string) *pb.Rule {
	return &pb.Rule{
		Id: "own", Check: pb.Check_EXPRESSION, When: []pb.Circumstance{pb.Circumstance_ALWAYS},
		Need: &pb.Rule_Expression{Expression: text}, Otherwise: pb.Rule_BACK, Because: because,
	}
}

// TestExpression: what a finding says where the expression is true, false, cannot be worked out, or is faulty.
func TestExpression(t *testing.T) {
	const ask = "Ask the secretary what this rule wants."
	facts := &pb.BikeFacts{
		Tyres:  &pb.Tyres{Front: &pb.Tyre{WidthMm: ptr(28.0)}},
		Lights: []*pb.Light{rear(90), {End: pb.End_REAR}},
	}
	for _, c := range []struct {
		text, because            string
		facts                    *pb.BikeFacts
		standing                 pb.Standing
		needed, declared, remedy string
		notDeclared              bool
	}{
		{text: "bike.tyres.front.width_mm >= 28", facts: facts,
			needed: "tyres.front.width >= 28", declared: "true for this bike: tyres.front.width is 28mm"},
		{text: "bike.tyres.front.width_mm > 28", because: "Wide tyres grip.", facts: facts, standing: pb.Standing_BACK,
			needed: "tyres.front.width > 28", declared: "false for this bike: tyres.front.width is 28mm",
			remedy: ask},
		{text: "bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 30)", facts: facts,
			needed:   "lights.exists(l, l.end == REAR && l.runtime >= group.lit_min + 30)",
			declared: "true for this bike: lights has 2 entries, group.lit_min is 60"},
		{text: "bike.lights.exists(l,\n  l.end == REAR && l.runtime_min >= group.lit_min + 31)", facts: facts, standing: pb.Standing_BACK,
			needed:   "lights.exists(l, l.end == REAR && l.runtime >= group.lit_min + 31)",
			declared: "runtime of one of lights is not declared", notDeclared: true,
			remedy: "Declare runtime of one of lights. " + ask},
		{text: "bike.tyres.rear.width_mm < 40", facts: facts, standing: pb.Standing_BACK,
			needed: "tyres.rear.width < 40", declared: "tyres.rear.width is not declared", notDeclared: true,
			remedy: "Declare tyres.rear.width. " + ask},
		{text: "size(bike.lights) < 9", standing: pb.Standing_BACK, needed: "size(lights) < 9", declared: "not declared",
			notDeclared: true, remedy: "Declare the bike and certify it. " + ask},
		{text: "group.temperature_min_c > -5", facts: facts, standing: pb.Standing_BACK, needed: "group.temperature_min_c > -5",
			declared: "group.temperature_min_c is not known", remedy: ask},
		{text: "size(bike.lights) / 0 == 1", facts: facts, standing: pb.Standing_BACK, needed: "size(lights) / 0 == 1",
			declared: "the expression could not be worked out: division by zero", remedy: ask},
		{text: "bike.wings", facts: facts, standing: pb.Standing_BACK, needed: "bike.wings",
			declared: "not looked at: the expression is faulty", remedy: ask},
	} {
		t.Run(c.text, func(t *testing.T) {
			s := subject(c.facts)
			if c.facts == nil {
				s.Declaration = nil
			}
			b, plan := book(expressionRule(c.text, c.because)), group(60, nil)
			f := finding(t, b, s, plan)
			want := &pb.Finding{
				Rule: "own", Check: pb.Check_EXPRESSION, Standing: max(c.standing, pb.Standing_CLEAR), Needed: c.needed, Declared: c.declared,
				Remedy: c.remedy, Because: c.because, NotDeclared: c.notDeclared, PolicyLine: 10,
			}
			if f.String() != want.String() {
				t.Errorf("got  %v\nwant %v", f, want)
			}
			if got := readiness.Standing(b, s, plan, evening); got != f.GetStanding() {
				t.Errorf("standing without words %v, with them %v", got, f.GetStanding())
			}
		})
	}
}

// TestExpressionLong: a finding shows the beginning of a long expression.
func TestExpressionLong(t *testing.T) {
	text := "bike.tyres.front.width_mm > 1" + strings.Repeat(" && bike.tyres.front.width_mm > 1", 20)
	f := finding(t, book(expressionRule(text, "")), subject(&pb.BikeFacts{}), group(60, nil))
	if n := len([]rune(f.GetNeeded())); n != 201 || !strings.HasSuffix(f.GetNeeded(), "…") {
		t.Errorf("%d characters: %s", n, f.GetNeeded())
	}
}

// TestExpressionCannotBeMended: no work on the bike is known to meet an expression, so there is no way to tell of.
func TestExpressionCannotBeMended(t *testing.T) {
	b := book(expressionRule("bike.tyres.front.width_mm > 28", ""))
	lift := readiness.Lifts(b, subject(&pb.BikeFacts{}), group(60, nil), evening)
	if lift.GetStanding() != pb.Standing_BACK || len(lift.GetWays()) != 0 {
		t.Errorf("%v", lift)
	}
}

// BenchmarkExpression measures an expression as a rule, judged with its finding and without, beside an evaluation of the
// same expression by the language's library alone, turn about in one run: at most 1.2 times as long without.
func BenchmarkExpression(b *testing.B) {
	const text = "bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 30.0)"
	env, err := cel.NewEnv(cel.Types(&pb.BikeFacts{}, &pb.GroupPlan{}), cel.CrossTypeNumericComparisons(true),
		cel.Variable("bike", cel.ObjectType("gritward.v1.BikeFacts")), cel.Variable("group", cel.ObjectType("gritward.v1.GroupPlan")))
	if err != nil {
		b.Fatal(err)
	}
	ast, issues := env.Compile(strings.ReplaceAll(text, "REAR", "gritward.v1.End.REAR"))
	if issues.Err() != nil {
		b.Fatal(issues.Err())
	}
	bare, err := env.Program(ast, cel.EvalOptions(cel.OptOptimize))
	if err != nil {
		b.Fatal(err)
	}
	s, plan := subject(lamps(rear(10), rear(20), rear(300))), group(60, nil)
	judged := book()
	for range 25 {
		judged.Rules = append(judged.Rules, readiness.NewRule(expressionRule(text, ""), 1))
	}
	variables := map[string]any{"bike": s.Declaration.GetFacts(), "group": plan}
	var rule, told, library time.Duration
	for b.Loop() {
		begin := time.Now()
		if readiness.Standing(judged, s, plan, evening) != pb.Standing_CLEAR {
			b.Fatal("not clear")
		}
		rule += time.Since(begin)
		begin = time.Now()
		readiness.Assess(judged, s, plan, evening)
		told += time.Since(begin)
		begin = time.Now()
		for range 25 {
			if out, _, err := bare.Eval(variables); err != nil || out.Value() != true {
				b.Fatal(out, err)
			}
		}
		library += time.Since(begin)
	}
	b.ReportMetric(float64(rule.Nanoseconds())/float64(25*b.N), "rule-ns")
	b.ReportMetric(float64(told.Nanoseconds())/float64(25*b.N), "rule-with-finding-ns")
	b.ReportMetric(float64(library.Nanoseconds())/float64(25*b.N), "bare-ns")
	b.ReportMetric(float64(rule)/float64(library), "ratio(limit1.2)")
}
