package expression_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/expression"
	pb "gritward/proto/gritward/v1"
)

// largest has as much of everything as the limits allow.
func largest() (*pb.BikeFacts, *pb.GroupPlan) {
	facts := bike()
	facts.Title, facts.Note = strings.Repeat("b", 60), strings.Repeat("n", 500)
	facts.Lights = nil
	for range 12 {
		facts.Lights = append(facts.Lights, &pb.Light{
			End: pb.End_REAR, Mode: pb.Light_STEADY, RuntimeMin: ptr(60.0), Lumens: ptr(10.0), Standard: strings.Repeat("s", 40), ChargedOn: "2026-12-01",
		})
	}
	plan := group()
	for range 300 {
		plan.Points = append(plan.Points, &pb.PlanPoint{DistanceM: 5000, What: "stop", At: timestamppb.New(testStart)})
		plan.Light = append(plan.Light, &pb.LightSpan{FromAt: timestamppb.New(testStart), ToAt: timestamppb.New(testStart), Sky: pb.LightSpan_NIGHT})
	}
	return facts, plan
}

// TestBound makes expressions of random pieces, and of loops around them, and holds what they cost for the largest bike
// and group against the bound that let them pass, as the reference implementation of the language counts it.
func TestBound(t *testing.T) {
	facts, plan := largest()
	passed := 0
	rapid.Check(t, func(t *rapid.T) {
		text := draw(t, 3)
		p, issues := expression.Compile(text)
		if p == nil {
			if !strings.HasPrefix(issues[0].Message, "the expression could take too long") {
				t.Fatalf("%s: %v", text, issues)
			}
			return
		}
		passed++
		bound, got := p.Bound(), p.Cost(facts, plan)
		if got > bound || bound > expression.MaxCost {
			t.Fatalf("%s: costs %d, bound %d", text, got, bound)
		}
	})
	if passed < 20 {
		t.Errorf("only %d expressions passed", passed)
	}
}

// draw makes a sound expression that is true or false.
func draw(t *rapid.T, depth int) string {
	leaf := rapid.SampledFrom([]string{
		"wet", "bike.carry.pump", "bike.chain.wear_pct < 0.5", "bike.note.contains('aaaa')", "bike.title + bike.note != 'x'",
		"bike.title.startsWith('b')", "bike.guards.rear.kind == FIXED", "has(bike.tyres.rear.width_mm)", "size(bike.note) > 3",
		"group.ice in [POSSIBLE, LIKELY]", "Circumstance.WET in group.circumstances", "bike.tyres.front.width_mm in [25, 28, 30]",
		"bike.chain.measured_on > group.season_from", "size(bike.lights.map(l, l.end)) > 2", "bike.lights[0].mode == STEADY",
		"(wet ? bike.note : bike.title).endsWith('n')",
	})
	if depth == 0 {
		return leaf.Draw(t, "leaf")
	}
	switch rapid.IntRange(0, 6).Draw(t, "kind") {
	case 0:
		return draw(t, depth-1) + " && " + draw(t, depth-1)
	case 1:
		return "(" + draw(t, depth-1) + " || " + draw(t, depth-1) + ")"
	case 2:
		return "(" + draw(t, depth-1) + " ? " + draw(t, depth-1) + " : " + draw(t, depth-1) + ")"
	case 3:
		return "bike.lights." + rapid.SampledFrom([]string{"all", "exists", "exists_one"}).Draw(t, "macro") +
			"(l, l.standard + bike.note != 'a' && l.end == REAR && " + draw(t, depth-1) + ")"
	case 4:
		return "group.points.all(p, p.distance_m > 100 || p.what == 'x' || " + draw(t, depth-1) + ")"
	case 5:
		return "size(bike.lights.filter(l, " + draw(t, depth-1) + ").map(m, m.end)) >= 0"
	default:
		return leaf.Draw(t, "leaf")
	}
}

// FuzzCompile: no text crashes it. What does not compile has issues with words and a place in the text; what compiles
// can be evaluated for a bike, for the largest, and for none.
func FuzzCompile(f *testing.F) {
	for _, text := range []string{
		"bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 30)", "bike.guards.rear.kind == NONE", "wet &&\n dry",
		"bike.lights[0].end in [FRONT, REAR] ? bike.carry.tubes == 2 : !wet", "timestamp('x') < group.start_at", "{'a': 1}['a'] == 1 || wet",
		"'\\u00e9' + r'\\d' == bike.title", "b'\\xff' == b'' || wet", "bike.lights.map(l, has(l.mode), l.mode)[0] == STEADY", "[1, 2.0, 3u]", "Light{end: 1}",
		"group.points.exists(p, p.at - group.start_at > duration('1h'))", "1 / 0 > bike.carry.tubes", "a.b.c(d)", "é", "\"\"\"", "wet//", "[[]]", "(((",
	} {
		f.Add(text)
	}
	facts, plan := largest()
	f.Fuzz(func(t *testing.T, text string) {
		p, issues := expression.Compile(text)
		if (p == nil) != (len(issues) > 0) {
			t.Fatalf("%v, %v", p, issues)
		}
		for _, issue := range issues {
			place(t, text, issue)
		}
		if p == nil {
			return
		}
		p.Eval(bike(), group()) //nolint:errcheck // an error is an answer here
		p.Eval(nil, nil)        //nolint:errcheck // as above
		p.Values(bike(), group())
		p.Values(nil, nil)
		if got := p.Cost(facts, plan); got > expression.MaxCost {
			t.Fatalf("cost %d", got)
		}
	})
}
