package route_test

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

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

// BenchmarkRead puts reading and measuring beside the decoder's bare work.
func BenchmarkRead(b *testing.B) {
	text := bigFile(100_000)
	b.Run("bare tokens", func(b *testing.B) {
		b.SetBytes(int64(len(text)))
		for b.Loop() {
			dec := xml.NewDecoder(strings.NewReader(text))
			for {
				if _, err := dec.Token(); err == io.EOF {
					break
				} else if err != nil {
					b.Fatal(err)
				}
			}
		}
	})
	b.Run("route", func(b *testing.B) {
		b.SetBytes(int64(len(text)))
		for b.Loop() {
			if _, err := route.Read(strings.NewReader(text)); err != nil {
				b.Fatal(err)
			}
		}
	})
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
