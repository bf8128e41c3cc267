package expression_test

import (
	"strings"
	"testing"
	"time"

	"cel.dev/cel-go/cel"

	"gritward/internal/expression"
	pb "gritward/proto/gritward/v1"
)

var testStart = time.Date(2026, time.December, 13, 9, 0, 0, 0, time.UTC)

// rules are expressions as a club may write them, each true of the bike and the group of main_test.go, and none with a
// number that the language alone would refuse.
func rules() map[string]string {
	return map[string]string{
		"lamps":  "bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 30.0)",
		"facts":  "bike.guards.rear.kind == FIXED && bike.tyres.front.width_mm >= 28.0 && bike.chain.wear_pct < 0.5 && bike.carry.pump",
		"clause": "bike.carry.tubes >= 2",
	}
}

// bare compiles a text with the language's library alone, set up as its manual has it, for the types of the protocol.
func bare(b *testing.B, text string) cel.Program {
	env, err := cel.NewEnv(cel.Types(&pb.BikeFacts{}, &pb.GroupPlan{}), cel.CrossTypeNumericComparisons(true),
		cel.Variable("bike", cel.ObjectType("gritward.v1.BikeFacts")), cel.Variable("group", cel.ObjectType("gritward.v1.GroupPlan")))
	if err != nil {
		b.Fatal(err)
	}
	text = strings.NewReplacer("REAR", "gritward.v1.End.REAR", "FIXED", "gritward.v1.Guard.Kind.FIXED").Replace(text)
	ast, issues := env.Compile(text)
	if issues.Err() != nil {
		b.Fatal(issues.Err())
	}
	program, err := env.Program(ast, cel.EvalOptions(cel.OptOptimize))
	if err != nil {
		b.Fatal(err)
	}
	return program
}

// BenchmarkEval measures an evaluation beside one by the bare library, turn about in one run: at most 1.2 times as long.
func BenchmarkEval(b *testing.B) {
	for name, text := range rules() {
		b.Run(name, func(b *testing.B) {
			ours, theirs := compile(b, text), bare(b, text)
			facts, plan := bike(), group()
			variables := map[string]any{"bike": facts, "group": plan}
			var our, their time.Duration
			b.ReportAllocs()
			for b.Loop() {
				begin := time.Now()
				for range 100 {
					if met, err := ours.Eval(facts, plan); !met || err != nil {
						b.Fatal(met, err)
					}
				}
				middle := time.Now()
				for range 100 {
					if out, _, err := theirs.Eval(variables); err != nil || out.Value() != true {
						b.Fatal(out, err)
					}
				}
				our, their = our+middle.Sub(begin), their+time.Since(middle)
			}
			b.ReportMetric(float64(our.Nanoseconds())/float64(100*b.N), "ours-ns")
			b.ReportMetric(float64(their.Nanoseconds())/float64(100*b.N), "bare-ns")
			b.ReportMetric(float64(our)/float64(their), "ratio(limit1.2)")
		})
	}
}

// BenchmarkMaxCost is the longest that an evaluation lasted that was found for the largest bike and group: with the
// bound nearly reached, and counted, until it is stopped.
func BenchmarkMaxCost(b *testing.B) {
	facts, plan := largest()
	for name, text := range map[string]string{
		"points": "group.points.all(p, p.distance_m > 0.0 && p.what != '' && (wet || dry))",
		"pairs":  "bike.lights.all(a, bike.lights.all(b, a.runtime_min + b.runtime_min > 0.0 && a.standard + b.standard != 'x'))",
	} {
		p := compile(b, text)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				p.Eval(facts, plan) //nolint:errcheck // an error is an answer here
			}
			b.ReportMetric(float64(p.Bound()), "bound")
		})
	}
	endless := bike()
	for range 100_000 {
		endless.Lights = append(endless.Lights, &pb.Light{End: pb.End_REAR})
	}
	p := compile(b, "bike.lights.all(a, bike.lights.all(b, a.end == b.end || wet))")
	b.Run("stopped", func(b *testing.B) {
		for b.Loop() {
			if _, err := p.Eval(endless, plan); err == nil {
				b.Fatal("not stopped")
			}
		}
	})
}

func BenchmarkCompile(b *testing.B) {
	for name, text := range map[string]string{
		"lamps": "bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 30)",
		"bad":   "bike.lights.exists(l, l.end == REAR && l.runtime >= group.lit_min + 30)",
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				expression.Compile(text)
			}
		})
	}
}
