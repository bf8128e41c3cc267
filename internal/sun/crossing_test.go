package sun_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/sun"
)

// Stepping minute by minute with the altitude function must find the same
// crossings, and each must sit on the limit to a tenth of a second.
func TestCrossingsMatchAPlainScan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPlace(t)
		p.LatDeg = max(-89.9, min(p.LatDeg, 89.9)) // the altitude hardly moves at the poles
		limit := rapid.SampledFrom([]float64{sun.RiseSetDeg, sun.CivilDeg, 0, 20}).Draw(t, "limit")
		from := time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "unix"), 0)
		to := from.Add(time.Duration(rapid.IntRange(1, 50).Draw(t, "hours")) * time.Hour)
		got := sun.Crossings(from, to, p, limit)

		var want []bool
		above := sun.AltitudeDeg(from, p) >= limit
		for at := from.Add(time.Minute); !at.After(to); at = at.Add(time.Minute) {
			if now := sun.AltitudeDeg(at, p) >= limit; now != above {
				want, above = append(want, now), now
			}
		}
		// A spell shorter than the scan's minute may be invisible to it.
		var seen []sun.Crossing
		for i := 0; i < len(got); i++ {
			if i+1 < len(got) && got[i+1].At.Sub(got[i].At) < time.Minute {
				i++
				continue
			}
			seen = append(seen, got[i])
		}
		if len(seen) != len(want) {
			t.Fatalf("%+v limit %v from %v: crossings %v, a scan sees %v", p, limit, from, got, want)
		}
		for i, c := range seen {
			if c.Rising != want[i] {
				t.Fatalf("crossing %d rising %v, scan %v", i, c.Rising, want[i])
			}
			before := sun.AltitudeDeg(c.At.Add(-100*time.Millisecond), p) >= limit
			after := sun.AltitudeDeg(c.At.Add(100*time.Millisecond), p) >= limit
			if before == after || after != c.Rising {
				t.Fatalf("%+v: %v is not within 0.1 s of altitude %v", p, c.At, limit)
			}
		}
	})
}

func TestCrossingsOfAnEmptyInterval(t *testing.T) {
	at := time.Date(2026, 1, 4, 8, 0, 0, 0, time.UTC)
	p := sun.Place{LatDeg: 54, LonDeg: -2}
	for name, to := range map[string]time.Time{"same": at, "backwards": at.AddDate(0, 0, -3)} {
		if got := sun.Crossings(at, to, p, sun.RiseSetDeg); got != nil {
			t.Errorf("%s: %v", name, got)
		}
	}
}

func TestCrossingsKeepTheCallersZone(t *testing.T) {
	z := zone(t, "Europe/London")
	from := time.Date(2026, 7, 1, 0, 0, 0, 0, z)
	got := sun.Crossings(from, from.AddDate(0, 0, 1), sun.Place{LatDeg: 54, LonDeg: -2}, sun.RiseSetDeg)
	if len(got) != 2 || got[0].At.Location() != z || got[0].At.Hour() != 4 {
		t.Errorf("crossings %v", got)
	}
}
