package route_test

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"gritward/internal/route"
)

// bigFile is a track of n points with elevations and times.
func bigFile(n int) string {
	var b strings.Builder
	for i := range n {
		x := float64(i)
		fmt.Fprintf(&b, "<trkpt lat=\"%.7f\" lon=\"%.7f\"><ele>%.1f</ele><time>2026-01-04T%02d:%02d:%02dZ</time></trkpt>\n",
			52+x*3e-5, -1+0.1*math.Sin(x/900), 100+60*math.Sin(x/2000), i/3600%24, i/60%60, i%60)
	}
	return track(b.String())
}

// BenchmarkRead puts reading and measuring beside the decoder's bare work in the same run, and beside the size of the
// file: no less than half the speed (below 2 of-bare), and live memory below 4 of-file at any time.
func BenchmarkRead(b *testing.B) {
	text := bigFile(100_000)
	b.SetBytes(int64(len(text)))
	bare := time.Duration(0)
	for b.Loop() {
		if _, err := route.Read(strings.NewReader(text)); err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		begun := time.Now()
		tokens(b, text)
		bare += time.Since(begun)
		b.StartTimer()
	}
	b.ReportMetric(float64(b.Elapsed())/float64(bare), "of-bare")
	b.ReportMetric(float64(livePeak(b, text))/float64(len(text)), "of-file")
}

// tokens reads a file with the bare decoder.
func tokens(b *testing.B, text string) {
	dec := xml.NewDecoder(strings.NewReader(text))
	for {
		if _, err := dec.Token(); err == io.EOF {
			return
		} else if err != nil {
			b.Fatal(err)
		}
	}
}

// livePeak is the most memory in use while a file is read, beyond what was before: looked at all the time, with a
// collector that leaves little lying about.
func livePeak(b *testing.B, text string) uint64 {
	defer debug.SetGCPercent(debug.SetGCPercent(5))
	used := func() uint64 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	runtime.GC()
	before, done, most := used(), make(chan struct{}), make(chan uint64)
	go func() {
		peak := uint64(0)
		for {
			select {
			case <-done:
				most <- max(peak, used())
				return
			default:
				peak = max(peak, used())
				runtime.Gosched()
			}
		}
	}()
	r, err := route.Read(strings.NewReader(text))
	if err != nil {
		b.Fatal(err)
	}
	close(done)
	peak := <-most
	runtime.KeepAlive(r)
	return peak - min(before, peak)
}

func BenchmarkDistanceM(b *testing.B) {
	for b.Loop() {
		route.DistanceM(52, -1, 52.0005, -1.0005)
	}
}

func BenchmarkNew(b *testing.B) {
	coords := north(10_000, 10, func(d float64) float64 { return 100 + 50*math.Sin(d/900) })
	for b.Loop() {
		if _, err := route.New("x", coords, nil); err != nil {
			b.Fatal(err)
		}
	}
}
