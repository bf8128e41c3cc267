package readiness_test

import (
	"math"
	"testing"

	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	"gritward/internal/readiness/readinesstest"
	pb "gritward/proto/gritward/v1"
)

// TestByHandIsTheSame: the yardstick says what the policy says, or it would be the wrong one.
func TestByHandIsTheSame(t *testing.T) {
	b, whole, g := readinesstest.Measured(t), wholeBike(t), winterNight(145)
	days, seen := readinesstest.NewThresholds(g, evening), map[pb.Standing]int{}
	rapid.Check(t, func(t *rapid.T) {
		bike := drawBike(t, whole)
		bike.Care = nil
		if f := bike.Declaration.GetFacts(); f.GetChain() != nil && f.Chain.Speeds == nil {
			f.Chain.Speeds = ptr(int32(11)) // what counts of a chain of unknown sprockets nobody writes by hand
		}
		want := readiness.Standing(b, bike, g, evening)
		seen[want]++
		if got := readinesstest.ByHand(bike.Declaration, g, days, evening); got != want {
			t.Fatalf("by hand %v, by the policy %v", got, want)
		}
	})
	t.Log(seen)
}

// BenchmarkBeside measures one bike that meets 25 rules, so that each must be looked at, beside its limits: by hand, without
// findings (limit: five times by hand), with every finding (limit: 5,000 ns), and by the same rules as CEL expressions (at least 50 times as long).
func BenchmarkBeside(b *testing.B) {
	rules, g := readinesstest.Measured(b), winterNight(145)
	bike := readiness.Subject{Bike: "bike", Declaration: &pb.Declaration{Facts: wholeBike(b), CertifiedAt: timestamppb.New(evening)}}
	days := readinesstest.NewThresholds(g, evening)
	if readinesstest.ByHand(bike.Declaration, g, days, evening) != pb.Standing_CLEAR || readiness.Standing(rules, bike, g, evening) != pb.Standing_CLEAR {
		b.Fatal("the bike does not meet the rules")
	}
	inCEL := celRules(b)
	if !inCEL(bike.Declaration.GetFacts(), g) {
		b.Fatal("the bike does not meet the expressions")
	}
	hand, standing, findings, expressions := math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1)
	for b.Loop() {
		hand = min(hand, readinesstest.Best(50, func() { readinesstest.ByHand(bike.Declaration, g, days, evening) }))
		standing = min(standing, readinesstest.Best(50, func() { readiness.Standing(rules, bike, g, evening) }))
		expressions = min(expressions, readinesstest.Best(5, func() { inCEL(bike.Declaration.GetFacts(), g) }))
		findings = min(findings, readinesstest.Best(50, func() { readiness.Assess(rules, bike, g, evening) }))
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
	rules, g := readinesstest.Measured(b), winterNight(145)
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
