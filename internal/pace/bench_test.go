package pace_test

import (
	"testing"
	"time"

	"gritward/internal/pace"
)

// Five groups over 100 km of 10,000 points, with hills and a wind.
func BenchmarkPlanFiveGroups(b *testing.B) {
	r := line(b, 10_000, 10, 40, hilly)
	wind := spell(pace.Air{WindKmh: 25, WindFromDeg: 250, AirDensityKgM3: 1.27, Wet: true})
	for b.Loop() {
		for _, kmh := range []float64{20, 23, 26, 29, 32} {
			plan(b, r, group(kmh), nil, wind)
		}
	}
	// The limit is 10 ms.
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(10*time.Millisecond), "of-10ms")
}

func BenchmarkSpeedMS(b *testing.B) {
	p := pace.Defaults()
	for b.Loop() {
		pace.SpeedMS(p, 150, 0.02, 3)
	}
}
