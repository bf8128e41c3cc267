package pace_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/pace"
)

// Differences of nine patients' Hamilton depression scale factor before and after a tranquilizer, the worked example of
// Hollander, Wolfe, Nonparametric Statistical Methods, section 3.2; the data also stand in the reference pages of the R
// package asbio (HL.mean). The book's estimate is -0.46 (from memory).
func TestHodgesLehmannOfTheTextbook(t *testing.T) {
	x := []float64{-0.952, 0.147, -1.022, -0.430, -0.620, -0.590, -0.490, 0.080, -0.010}
	near(t, "centre", pace.HodgesLehmann(x), -0.46, 1e-12)
	near(t, "of one", pace.HodgesLehmann([]float64{3}), 3, 0)
	near(t, "of two", pace.HodgesLehmann([]float64{3, 5}), 4, 0)
	if got := pace.HodgesLehmann(nil); !math.IsNaN(got) {
		t.Errorf("of none: %g", got)
	}
}

// The second definition of the estimate, by Hodges and Lehmann 1963: the shift for which Wilcoxon's signed rank
// statistic comes to the middle of its range. Sums of signed ranks just below and just above must lie on both sides.
func TestHodgesLehmannBalancesSignedRanks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-1, 1), 2, 15).Draw(t, "x")
		centre := pace.HodgesLehmann(x)
		if below, above := signedRanks(x, centre-1e-9), signedRanks(x, centre+1e-9); below < 0 || above > 0 {
			t.Fatalf("centre %g: signed ranks %g just below, %g just above", centre, below, above)
		}
	})
}

// signedRanks is the sum of the ranks of |x - shift|, with the signs of x - shift; ranks of ties are shared.
func signedRanks(x []float64, shift float64) (sum float64) {
	for _, a := range x {
		rank := 0.5
		for _, b := range x {
			switch d := math.Abs(b-shift) - math.Abs(a-shift); {
			case math.Abs(d) < 1e-12:
				rank += 0.5
			case d < 0:
				rank++
			}
		}
		sum += math.Copysign(rank, a-shift)
	}
	return sum
}

// past makes rides of two hours, a week apart, the newest a week before the start, that took so many times as long.
func past(factors ...float64) []pace.PastRide {
	rides := make([]pace.PastRide, len(factors))
	for i, f := range factors {
		rides[i] = pace.PastRide{Start: start.AddDate(0, 0, -7*(i+1)), Planned: 2 * time.Hour, Took: time.Duration(f * float64(2*time.Hour))}
	}
	return rides
}

func TestRefine(t *testing.T) {
	old := past(1.1, 1.1, 1.1, 1.1, 1.1, 1.1)
	for i := range old {
		old[i].Start = start.Add(-pace.MaxPastAge - time.Duration(i)*time.Second)
	}
	many := past(slices.Concat(slices.Repeat([]float64{1.05}, pace.MaxPastRides), slices.Repeat([]float64{1.2}, 30))...)
	late := past(1.1, 1.1, 1.1, 1.1, 1.1)
	late[0].Start = start
	short := past(0.3, 0.3, 0.3, 0.3, 0.3)
	for i := range short { // five rides of 0.4 km made another one 10 % quicker
		short[i].Planned, short[i].Took = 80*time.Second, 60*time.Second
	}
	nothing := past(1.1, 1.1, 1.1, 1.1, 1.1)
	nothing[2].Planned = 0
	for _, c := range []struct {
		name          string
		past          []pace.PastRide
		factor, found float64
		rests         int
	}{
		{"none", nil, 1, 1, 0},
		{"too few", past(1.1, 1.1, 1.1, 1.1), 1, 1, 4},
		{"just enough", past(1.04, 1.04, 1.04, 1.04, 1.04), 1.04, 1.04, 5},
		{"on the edge of age, and beyond it", old, 1, 1, 1},
		{"only the newest", many, 1.05, 1.05, pace.MaxPastRides},
		{"the ride itself", late, 1, 1, 4},
		{"a ride of no time", nothing, 1, 1, 4},
		{"short rides", short, 1, 1, 0},
		{"five short ones beside five", slices.Concat(short, past(1.1, 1.1, 1.1, 1.1, 1.1)), 1.1, 1.1, 5},
		{"on the edges of belief, and beyond them", past(0.5, 2, 0.499, 2.001, 1, 1, 1), 1, 1, 5},
		{"a puncture", past(1.02, 1.03, 1.9, 1.02, 1.03), 1.03, 1.03, 5},
		{"marked home the day after", past(1.02, 1.02, 12, 1.02, 1.02, 1.02), 1.02, 1.02, 5},
		{"much slower", past(1.5, 1.5, 1.5, 1.5, 1.5), pace.MaxTimeFactor, 1.5, 5},
		{"much quicker", past(0.6, 0.6, 0.6, 0.6, 0.6), pace.MinTimeFactor, 0.6, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := pace.Refine(c.past, start)
			near(t, "factor", got.TimeFactor, c.factor, 0.006)
			near(t, "found", got.Found, c.found, 0.006)
			if len(got.Rests) != c.rests || got.Enough() != (c.rests >= pace.MinPastRides) {
				t.Errorf("rests on %v, want %d rides", got.Rests, c.rests)
			}
		})
	}
}

func TestRefineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		factors := rapid.SliceOfN(rapid.Float64Range(0.7, 1.5), pace.MinPastRides, pace.MaxPastRides).Draw(t, "factors")
		rides := past(factors...)
		before := pace.Refine(rides, start)
		if shuffled := pace.Refine(rapid.Permutation(rides).Draw(t, "shuffled"), start); shuffled.Found != before.Found {
			t.Fatalf("in another order %g, not %g", shuffled.Found, before.Found)
		}
		if before.Found < slices.Min(factors)-1e-9 || before.Found > slices.Max(factors)+1e-9 {
			t.Fatalf("%g lies outside what was recorded", before.Found)
		}

		// One ride becomes anything: the factor stays within what the others have.
		spoilt := rapid.IntRange(0, len(factors)-1).Draw(t, "spoilt")
		rides[spoilt].Took = time.Duration(rapid.Int64Range(int64(time.Hour), int64(4*time.Hour)).Draw(t, "took")) // all that counts
		others := slices.Delete(slices.Clone(factors), spoilt, spoilt+1)
		low, high := slices.Min(others), slices.Max(others)
		after := pace.Refine(rides, start)
		if after.Found < low-1e-9 || after.Found > high+1e-9 {
			t.Fatalf("one spoilt ride brings it to %g; the others have %g to %g", after.Found, low, high)
		}
		if factors[spoilt] >= low && factors[spoilt] <= high && math.Abs(after.Found-before.Found) > high-low+1e-9 {
			t.Fatalf("moved from %g to %g by one ride; the others differ by %g", before.Found, after.Found, high-low)
		}
	})
}

func TestRefineOnPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rides := past(make([]float64, rapid.IntRange(pace.MinPastRides, 30).Draw(t, "rides"))...)
		for i := range rides {
			rides[i].Planned = time.Duration(rapid.Int64Range(int64(pace.MinPastRiding), int64(24*time.Hour)).Draw(t, "planned"))
			rides[i].Took = rides[i].Planned
		}
		if got := pace.Refine(rides, start); got.TimeFactor != 1 || got.Found != 1 {
			t.Fatalf("all on plan gives %g", got.Found)
		}
	})
}

// A plan with a time factor above 1 takes exactly so much longer where the air stays the same, stops apart; below 1 it
// is quicker, but not beyond the caps downhill.
func TestPlanWithATimeFactor(t *testing.T) {
	r := line(t, 400, 100, 60, hilly)
	stops := []pace.Stop{{Name: "Tea", AtM: 9000, For: 30 * time.Minute}}
	ride := func(factor float64) *pace.Timeline {
		g := group(24)
		g.TimeFactor = factor
		return plan(t, r, g, stops, spell(pace.Air{WindKmh: 15, WindFromDeg: 200, Wet: true}))
	}
	riding := func(factor float64) float64 { return (took(ride(factor)) - 30*time.Minute).Seconds() }
	plain := riding(0)
	near(t, "factor 1", riding(1), plain, 0)
	near(t, "factor 1.04", riding(1.04), 1.04*plain, 1e-6)
	near(t, "factor 1.25", riding(1.25), 1.25*plain, 1e-6)
	if quick := riding(0.9); quick < 0.9*plain || quick >= plain {
		t.Errorf("factor 0.9 takes %g s, plain %g s", quick, plain)
	}
	quick := ride(0.9)
	for i := 1; i < len(quick.Instants); i++ {
		a, b := quick.Instants[i-1], quick.Instants[i]
		downhill := hilly(b.DistM)-hilly(a.DistM) < -0.02*(b.DistM-a.DistM)
		if v := (b.DistM - a.DistM) / b.At.Sub(a.At).Seconds() * 3.6; downhill && v > pace.Defaults().CapWetKmh+1e-3 {
			t.Fatalf("%.1f km/h downhill at %.0f m", v, a.DistM)
		}
	}
	for _, factor := range []float64{0.89, 1.26, -1, math.NaN(), math.Inf(1)} {
		g := group(24)
		g.TimeFactor = factor
		if _, err := pace.Plan(r, g, start, nil, nil); err == nil {
			t.Errorf("a factor of %g was taken", factor)
		}
	}
}

// Past rides made by planning with a known factor, and by noise that is the same on both sides, give that factor back.
func TestRefineFindsThePlansFactor(t *testing.T) {
	r := line(t, 300, 100, 10, hilly)
	g := group(22)
	plain := took(plan(t, r, g, nil))
	g.TimeFactor = 1.07
	slow := took(plan(t, r, g, nil))
	var rides []pace.PastRide
	for i, noise := range []float64{-0.02, 0.02, -0.01, 0.01, 0} {
		rides = append(rides, pace.PastRide{Start: start.AddDate(0, 0, -7*(i+1)), Planned: plain,
			Took: time.Duration(float64(slow) * math.Exp(noise))})
	}
	near(t, "factor", pace.Refine(rides, start).TimeFactor, 1.07, 1e-6)
}
