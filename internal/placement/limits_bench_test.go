//go:build unix

package placement_test

import (
	"fmt"
	"math"
	"runtime"
	"syscall"
	"testing"
	"time"

	"gritward/internal/placement"
)

// ours is the processor time of solving a problem, which must be proven, the
// collecting of garbage on other cores with it. Unlike the time on the clock it
// does not depend on what else the machine is doing.
func ours(b *testing.B, p placement.Problem) time.Duration {
	runtime.GC()
	from := processorTime(b)
	for b.Loop() {
		if r := solve(b, p); !r.Proven {
			b.Fatal("not proven")
		}
	}
	return (processorTime(b) - from) / time.Duration(b.N)
}

func processorTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
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
				b.ReportMetric(took.Seconds()*1000, "cpu_ms")
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
