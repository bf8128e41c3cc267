package care_test

import (
	"os"
	"testing"

	"gritward/internal/care"
	"gritward/internal/policy"
	pb "gritward/proto/gritward/v1"
)

// BenchmarkDue is the time for one bike with the shipped policy and a log of 100 entries and 30 rides.
func BenchmarkDue(b *testing.B) {
	text, err := os.ReadFile("../../policy/winter.yaml")
	if err != nil {
		b.Fatal(err)
	}
	shipped, problems := policy.Read("winter.yaml", text)
	if shipped == nil {
		b.Fatal(problems)
	}
	in := care.Input{Bike: bike(tenSpeed()), Rides: rides(30, 50), Book: shipped.Book(), At: now, Plan: plan, DaysAhead: 28}
	for i := range 100 {
		work := []pb.CareEntry_Work{pb.CareEntry_CHAIN_MEASURED, pb.CareEntry_CHAIN_LUBRICATED, pb.CareEntry_WASHED, pb.CareEntry_PADS_MEASURED}[i%4]
		in.Care = append(in.Care, entry(300-3*i, work, pct(float64(i)/200), mm(pb.End_FRONT, 3-float64(i)/100)))
	}
	items := 0
	for b.Loop() {
		list, err := care.Due(in)
		if err != nil {
			b.Fatal(err)
		}
		items = len(list)
	}
	b.ReportMetric(float64(len(shipped.Rules())), "rules")
	b.ReportMetric(float64(items), "items")
}
