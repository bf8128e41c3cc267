package bench_test

import (
	"math"
	"slices"
	"syscall"
	"testing"
	"time"
)

// median is the middle of some figures.
func median(of []float64) float64 {
	sorted := slices.Sorted(slices.Values(of))
	switch n := len(sorted); {
	case n == 0:
		return math.NaN()
	case n%2 == 1:
		return sorted[n/2]
	default:
		return (sorted[n/2-1] + sorted[n/2]) / 2
	}
}

// busy is how long the processor has worked for this process, s. Other work on the machine does not count in it.
func busy(b testing.TB) float64 {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return float64(used.Utime.Nano()+used.Stime.Nano()) / 1e9
}

// cpu is the processor time that f takes, s: the mean of so many times, collecting garbage included.
func cpu(b testing.TB, times int, f func()) float64 {
	began := busy(b)
	for range times {
		f()
	}
	return (busy(b) - began) / float64(times)
}

// took is how long f takes, s.
func took(f func()) float64 {
	began := time.Now()
	f()
	return time.Since(began).Seconds()
}

// atLeastOne are counts of which none is nought, of which there is no logarithm: what reads nothing grows as what reads one thing.
func atLeastOne(counts []float64) []float64 {
	made := slices.Clone(counts)
	for i := range made {
		made[i] = max(made[i], 1)
	}
	return made
}

// slope is the exponent by which a time grows with a size: the slope of the least squares line of log time over log size.
func slope(sizes []int, times []float64) float64 {
	var n, sx, sy, sxx, sxy float64
	for i := range sizes {
		x, y := math.Log(float64(sizes[i])), math.Log(times[i])
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	return (n*sxy - sx*sy) / (n*sxx - sx*sx)
}
