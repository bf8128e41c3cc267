package wear_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gritward/internal/wear"
)

// TestRangeHolds plays many chains whose wear is known, read with normal errors of sd 0.025 %, and counts how often the
// distance to the limit lies in the range told. It is made for four times in five. Invented chains: 0.1 to 0.3 % for
// 1,000 dry km, twice that when wet, measured every 200 to 600 km, seeded.
func TestRangeHolds(t *testing.T) {
	for _, c := range []struct {
		readings, astray int
		least            float64
	}{{3, 0, 0.8}, {4, 0, 0.8}, {5, 0, 0.8}, {7, 0, 0.8}, {10, 0, 0.8}, {7, 1, 0.8}, {8, 2, 0.8}, {12, 2, 0.8}} {
		t.Run(fmt.Sprintf("%d readings, %d far off", c.readings, c.astray), func(t *testing.T) {
			random := rand.New(rand.NewPCG(uint64(c.readings), uint64(c.astray)))
			var told, held, bounded int
			var off, width float64
			for range 1000 {
				part, leftKm := play(random, c.readings, c.astray)
				p := wear.Project(part, 0.4)
				if p.Basis == wear.NotEnough || p.Reached {
					continue
				}
				told++
				off += math.Abs(p.KmMiddle-leftKm) / leftKm
				if p.KmLow <= leftKm && leftKm <= p.KmHigh {
					held++
				}
				if !math.IsInf(p.KmHigh, 1) {
					bounded++
					width += (p.KmHigh - p.KmLow) / leftKm
				}
			}
			share := float64(held) / float64(told)
			t.Logf("told %d, range holds %.0f %%, middle off by %.0f %%; bounded %.0f %%, %.1f times the distance wide",
				told, 100*share, 100*off/float64(told), 100*float64(bounded)/float64(told), width/float64(bounded))
			if told < 300 || share < c.least {
				t.Errorf("told %d times, held %.3f", told, share)
			}
		})
	}
}

// play makes a chain, and how far it truly has to go with 0.4 of the road wet.
func play(random *rand.Rand, readings, astray int) (wear.Part, float64) {
	part := wear.Part{Rising: true, FloorSpread: 0.05}
	dry := (0.1 + 0.2*random.Float64()) / 1000
	km, wetKm, worn := 0.0, 0.0, 0.0
	for i := range readings {
		if i > 0 {
			stage, wetShare := 200+400*random.Float64(), 0.0
			if random.Float64() < 0.6 {
				wetShare = random.Float64()
			}
			km, wetKm = km+stage, wetKm+stage*wetShare
			worn += dry * stage * (1 + wetShare)
		}
		part.Readings = append(part.Readings, wear.Reading{Km: km, WetKm: wetKm, Value: worn + 0.025*random.NormFloat64()})
	}
	for _, i := range random.Perm(readings)[:astray] {
		part.Readings[i].Value += (random.Float64() - 0.5) * 0.6
	}
	left := 0.2 + 0.3*random.Float64()
	part.Limit = worn + left
	return part, left / (dry * 1.4)
}

// BenchmarkProject is the time for one part.
func BenchmarkProject(b *testing.B) {
	for _, n := range []int{3, 7, wear.MostReadings} {
		part, _ := play(rand.New(rand.NewPCG(1, 2)), n, 0)
		b.Run(fmt.Sprintf("%d readings", n), func(b *testing.B) {
			for b.Loop() {
				wear.Project(part, 0.4)
			}
		})
	}
}
