package wear_test

import (
	"math"
	"testing"

	"gritward/internal/wear"
)

// chain has readings at every step km, to 0.75 %, read to 0.05 % either way.
func chain(stepKm float64, values ...float64) wear.Part {
	part := wear.Part{Limit: 0.75, Rising: true, FloorSpread: 0.05}
	for i, value := range values {
		part.Readings = append(part.Readings, wear.Reading{Km: float64(i) * stepKm, Value: value})
	}
	return part
}

// TestBasis: what is enough and what is not, and at the limit.
func TestBasis(t *testing.T) {
	same := chain(0, 0.1, 0.2, 0.3, 0.4)
	twoPlaces := wear.Part{Limit: 0.75, Rising: true, Readings: []wear.Reading{{Km: 0}, {Km: 900, Value: 0.3}, {Km: 900, Value: 0.3}}}
	for name, c := range map[string]struct {
		part    wear.Part
		basis   wear.Basis
		used    int
		newest  float64
		reached bool
	}{
		"none":                   {chain(500), wear.NotEnough, 0, 0, false},
		"one":                    {chain(500, 0.1), wear.NotEnough, 1, 0.1, false},
		"two":                    {chain(500, 0.1, 0.3), wear.NotEnough, 2, 0.3, false},
		"three":                  {chain(500, 0.1, 0.2, 0.3), wear.OneRate, 3, 0.3, false},
		"three at two distances": {twoPlaces, wear.NotEnough, 3, 0.3, false},
		"just far enough":        {chain(100, 0.1, 0.2, 0.3), wear.OneRate, 3, 0.3, false},
		"just too near":          {chain(99.9, 0.1, 0.2, 0.3), wear.NotEnough, 3, 0.3, false},
		"all at one distance":    {same, wear.NotEnough, 4, 0.4, false},
		"within the error":       {chain(500, 0.1, 0.12, 0.149), wear.NotEnough, 3, 0.149, false},
		"just beyond the error":  {chain(500, 0.1, 0.13, 0.1501), wear.OneRate, 3, 0.1501, false},
		"no wear":                {chain(500, 0.3, 0.3, 0.3, 0.3), wear.NotEnough, 4, 0.3, false},
		"growing back":           {chain(500, 0.5, 0.4, 0.3, 0.2), wear.NotEnough, 4, 0.2, false},
		"just below the limit":   {chain(500, 0.1, 0.4, 0.7499), wear.OneRate, 3, 0.7499, false},
		"at the limit":           {chain(500, 0.1, 0.4, 0.75), wear.OneRate, 3, 0.75, true},
		"beyond, one reading":    {chain(500, 0.9), wear.NotEnough, 1, 0.9, true},
		"one is not a number":    {chain(500, 0.1, math.NaN(), 0.3), wear.NotEnough, 2, 0.3, false},
		"limit is not a number":  {wear.Part{Limit: math.NaN(), Readings: same.Readings}, wear.NotEnough, 4, 0, false},
		"pad":                    {wear.Part{Limit: 0.5, Readings: []wear.Reading{{Value: 2}, {Km: 400, Value: 1.5}, {Km: 800, Value: 1}}}, wear.OneRate, 3, 1, false},
		"pad at the limit":       {wear.Part{Limit: 1, Readings: []wear.Reading{{Value: 2}, {Km: 400, Value: 1.5}, {Km: 800, Value: 1}}}, wear.OneRate, 3, 1, true},
	} {
		t.Run(name, func(t *testing.T) {
			p := wear.Project(c.part, 0)
			if p.Basis != c.basis || p.Used != c.used || p.Newest != c.newest || p.Reached != c.reached {
				t.Errorf("%+v", p)
			}
			checkSound(t, p)
		})
	}
}

// TestFigures: worked by hand. Wear of 0.1 % each 500 km is 0.2 % for 1,000 km; from 0.3 % to 0.75 % are 2,250 km. One
// error of 0.05 % over the span of 1,000 km makes the slope 0.15 to 0.25, and the level 0.25 to 0.35: 1,600 to 3,333 km.
func TestFigures(t *testing.T) {
	p := wear.Project(chain(500, 0.1, 0.2, 0.3), 0)
	for name, c := range map[string][2]float64{
		"dry": {p.DryPer1000Km, 0.2}, "wet": {p.WetPer1000Km, 0.2},
		"low": {p.KmLow, 0.40 / 0.25 * 1000}, "middle": {p.KmMiddle, 0.45 / 0.2 * 1000}, "high": {p.KmHigh, 0.50 / 0.15 * 1000},
	} {
		if math.Abs(c[0]-c[1]) > 1e-9*c[1] {
			t.Errorf("%s: %v, want %v", name, c[0], c[1])
		}
	}
}

// TestUnbounded: where the slope may be nothing at all, no farthest distance is told.
func TestUnbounded(t *testing.T) {
	p := wear.Project(chain(500, 0.1, 0.3, 0.1, 0.3), 0)
	if p.Basis != wear.OneRate || !math.IsInf(p.KmHigh, 1) || math.IsInf(p.KmMiddle, 1) {
		t.Errorf("%+v", p)
	}
}

// TestNewestOnly: readings beyond the most that are used do not count, and of two at one distance the last is the newest.
func TestNewestOnly(t *testing.T) {
	many := make([]float64, wear.MostReadings+5)
	for i := range many {
		many[i] = 0.01 * float64(i)
	}
	want := wear.Project(chain(500, many...), 0)
	for i := range 5 {
		many[i] = 9
	}
	if got := wear.Project(chain(500, many...), 0); got != want || got.Used != wear.MostReadings {
		t.Errorf("%+v, want %+v", got, want)
	}
	twice := chain(500, 0.1, 0.2, 0.9)
	twice.Readings = append(twice.Readings, wear.Reading{Km: 1000, Value: 0.3})
	if p := wear.Project(twice, 0); p.Newest != 0.3 || p.Reached {
		t.Errorf("%+v", p)
	}
}

// TestShareAhead: with wet and dry told apart, more wet road ahead is nearer; NaN stands for as much as there was.
func TestShareAhead(t *testing.T) {
	part := wear.Part{Limit: 2, Rising: true}
	km, wetKm, worn := 0.0, 0.0, 0.0
	for i := range 9 {
		part.Readings = append(part.Readings, wear.Reading{Km: km, WetKm: wetKm, Value: worn})
		km += 400
		if i%2 == 0 {
			wetKm += 400
			worn += 0.12
		} else {
			worn += 0.06
		}
	}
	dry, half, wet, asRidden := wear.Project(part, 0), wear.Project(part, 0.5), wear.Project(part, 1), wear.Project(part, math.NaN())
	if dry.Basis != wear.WetAndDry || half != asRidden || half.KmMiddle <= wet.KmMiddle || half.KmMiddle >= dry.KmMiddle {
		t.Errorf("dry %+v\nhalf %+v\nwet %+v\nas ridden %+v", dry, half, wet, asRidden)
	}
	if math.Abs(wet.WetPer1000Km-0.3) > 1e-9 || math.Abs(wet.DryPer1000Km-0.15) > 1e-9 || math.Abs(dry.WetPer1000Km-0.3) > 1e-9 {
		t.Errorf("wet %+v, dry %+v", wet, dry)
	}
	for i := range part.Readings {
		part.Readings[i].WetKm = part.Readings[i].Km / 2 // evenly: they cannot be told apart
	}
	if p := wear.Project(part, 1); p.Basis != wear.OneRate {
		t.Errorf("%+v", p)
	}
}
