package placement_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"gritward/internal/placement"
)

// ours is the median time of solving a problem, which must be proven.
func ours(b *testing.B, p placement.Problem) time.Duration {
	var times []time.Duration
	for b.Loop() {
		from := time.Now()
		if r := solve(b, p); !r.Proven {
			b.Fatal("not proven")
		}
		times = append(times, time.Since(from))
	}
	slices.Sort(times)
	return times[len(times)/2]
}

// The time of the sizes of club that placement is made for, on one core, beside
// its limit.
func BenchmarkLimits(b *testing.B) {
	for _, size := range []struct {
		riders, groups int
		limit          time.Duration
	}{{60, 5, time.Millisecond}, {200, 8, 5 * time.Millisecond}, {1000, 10, 100 * time.Millisecond}} {
		for seed := range uint64(8) {
			b.Run(fmt.Sprintf("%dx%d/%d", size.riders, size.groups, seed), func(b *testing.B) {
				took := ours(b, club(size.riders, size.groups, seed))
				b.ReportMetric(took.Seconds()*1000, "median_ms")
				b.ReportMetric(size.limit.Seconds()*1000, "limit_ms")
			})
		}
	}
}

// How the time grows from 100 to 1,000 riders in ten groups: the exponent of the
// power law that fits best.
func BenchmarkGrowth(b *testing.B) {
	var x, y []float64
	for _, riders := range []int{100, 200, 400, 700, 1000} {
		for seed := range uint64(3) {
			b.Run(fmt.Sprintf("%dx10/%d", riders, seed), func(b *testing.B) {
				took := ours(b, club(riders, 10, seed))
				x, y = append(x, math.Log(float64(riders))), append(y, math.Log(took.Seconds()))
			})
		}
	}
	b.Run("exponent", func(b *testing.B) {
		var n, sx, sy, sxx, sxy float64
		for i := range x {
			n, sx, sy, sxx, sxy = n+1, sx+x[i], sy+y[i], sxx+x[i]*x[i], sxy+x[i]*y[i]
		}
		b.ReportMetric((n*sxy-sx*sy)/(n*sxx-sx*sx), "exponent")
		b.ReportMetric(0, "ns/op")
	})
}
