package sun_test

import (
	"testing"
	"time"

	"gritward/internal/sun"
)

func BenchmarkAltitudeDeg(b *testing.B) {
	p := sun.Place{LatDeg: 54.3, LonDeg: -2.1}
	at := time.Date(2026, 1, 4, 15, 0, 0, 0, time.UTC)
	var sum float64
	for b.Loop() {
		at = at.Add(time.Second)
		sum += sun.AltitudeDeg(at, p)
	}
	_ = sum
}

func BenchmarkOn(b *testing.B) {
	p := sun.Place{LatDeg: 54.3, LonDeg: -2.1}
	for b.Loop() {
		if _, err := sun.On(2026, 1, 4, time.UTC, p); err != nil {
			b.Fatal(err)
		}
	}
}
