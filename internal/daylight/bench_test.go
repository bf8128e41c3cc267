package daylight_test

import (
	"testing"
	"time"

	"gritward/internal/daylight"
)

func BenchmarkOf(b *testing.B) {
	tl := loop(clock(b, "2026-01-04T12:30:00Z"), 10001)
	for _, begins := range allRules {
		b.Run(begins.String(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				of(b, tl, daylight.Rule{Begins: begins, Margin: 30 * time.Minute})
			}
		})
	}
}

func BenchmarkLatestHomeBy(b *testing.B) {
	tl := loop(clock(b, "2026-01-04T09:00:00Z"), 10001)
	for b.Loop() {
		if _, ok, err := daylight.LatestHomeBy(tl, daylight.Rule{}, 30*time.Minute); !ok || err != nil {
			b.Fatal(ok, err)
		}
	}
}

// BenchmarkLatest asks a whole profile of every start it tries.
func BenchmarkLatest(b *testing.B) {
	tl := loop(clock(b, "2026-01-04T09:00:00Z"), 10001)
	for b.Loop() {
		_, ok, err := daylight.Latest(tl.Start(), tl.Start().Add(12*time.Hour), nil, func(start time.Time) (bool, error) {
			p, err := daylight.Of(tl.Shift(start.Sub(tl.Start())), daylight.Rule{}, nil)
			return p.DarkFor == 0, err
		})
		if !ok || err != nil {
			b.Fatal(ok, err)
		}
	}
}
