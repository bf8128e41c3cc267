package wear_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/wear"
)

// world is a part that wears evenly, read without error.
type world struct {
	part     wear.Part
	dry, wet float64 // for 1,000 km
}

// drawWorld draws a part with n readings at whole kilometres. Wet roads come in turns, so that wet and dry can be told
// apart; wetter is how many times as fast a wet road wears.
func drawWorld(t *rapid.T, n int, wetter float64) world {
	rising := rapid.Bool().Draw(t, "rising")
	w := world{dry: rapid.Float64Range(0.05, 2).Draw(t, "dry rate")}
	w.wet = w.dry * wetter
	start := rapid.Float64Range(-0.1, 5).Draw(t, "start")
	km, wetKm, sign := 0.0, 0.0, -1.0
	if rising {
		sign = 1
	}
	for i := range n {
		if i > 0 {
			stage := float64(rapid.IntRange(600, 900).Draw(t, "stage"))
			km += stage
			wetKm += math.Round(stage * rapid.Float64Range(0.8*float64(i%2), 0.2+0.8*float64(i%2)).Draw(t, "wet share"))
		}
		worn := (w.dry*(km-wetKm) + w.wet*wetKm) / 1000
		w.part.Readings = append(w.part.Readings, wear.Reading{Km: km, WetKm: wetKm, Value: start + sign*worn})
	}
	newest := w.part.Readings[n-1].Value
	w.part.Rising = rising
	w.part.Limit = newest + sign*rapid.Float64Range(0.1, 5).Draw(t, "left")
	return w
}

// spoil moves two readings anywhere.
func spoil(t *rapid.T, part wear.Part) {
	for range 2 {
		i := rapid.IntRange(0, len(part.Readings)-1).Draw(t, "spoilt")
		part.Readings[i].Value = rapid.Float64Range(-20, 20).Draw(t, "instead")
	}
}

func near(got, want float64) bool { return math.Abs(got-want) <= 1e-6*max(1, math.Abs(want)) }

// TestTwoAstray: of seven readings or more without other error, two may be anywhere: the distance comes out right.
func TestTwoAstray(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, rapid.IntRange(7, 12).Draw(t, "readings"), 1)
		for i := range w.part.Readings {
			w.part.Readings[i].WetKm = 0 // one kind of road
		}
		n := len(w.part.Readings)
		left := math.Abs(w.part.Limit-w.part.Readings[n-1].Value) / w.dry * 1000
		spoil(t, w.part)
		p := wear.Project(w.part, 0)
		if p.Reached {
			return // the newest one was spoilt to beyond the limit: what is read counts
		}
		if p.Basis != wear.OneRate || !near(p.DryPer1000Km, w.dry) || !near(p.KmMiddle, left) {
			t.Errorf("%+v: want %v for 1,000 km, %v km", p, w.dry, left)
		}
	})
}

// TestTwoAstrayWetAndDry: the same with wet and dry roads.
func TestTwoAstrayWetAndDry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, rapid.IntRange(9, 12).Draw(t, "readings"), rapid.Float64Range(0.5, 4).Draw(t, "wetter"))
		share := rapid.Float64Range(0, 1).Draw(t, "share ahead")
		n := len(w.part.Readings)
		left := math.Abs(w.part.Limit-w.part.Readings[n-1].Value) / (w.dry*(1-share) + w.wet*share) * 1000
		spoil(t, w.part)
		p := wear.Project(w.part, share)
		if p.Reached {
			return
		}
		if p.Basis != wear.WetAndDry || !near(p.DryPer1000Km, w.dry) || !near(p.WetPer1000Km, w.wet) || !near(p.KmMiddle, left) {
			t.Errorf("%+v: want dry %v, wet %v for 1,000 km, %v km", p, w.dry, w.wet, left)
		}
	})
}

// drawPart draws a part with readings that may be anything within reason.
func drawPart(t *rapid.T) wear.Part {
	part := wear.Part{
		Limit: rapid.Float64Range(-2, 5).Draw(t, "limit"), Rising: rapid.Bool().Draw(t, "rising"),
		FloorSpread: rapid.SampledFrom([]float64{0, 0.05, 0.2}).Draw(t, "error"),
	}
	km, wetKm := 0.0, 0.0
	for range rapid.IntRange(0, 10).Draw(t, "readings") {
		part.Readings = append(part.Readings, wear.Reading{Km: km, WetKm: wetKm, Value: float64(rapid.IntRange(-128, 320).Draw(t, "value")) / 64})
		stage := float64(rapid.IntRange(1, 700).Draw(t, "stage"))
		km += stage
		wetKm += stage * rapid.Float64Range(0, 1).Draw(t, "wet share")
	}
	return part
}

// TestSoundProjection: the range holds the middle, nothing is below zero, and nothing is told without a basis.
func TestSoundProjection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		checkSound(t, wear.Project(drawPart(t), rapid.Float64Range(0, 1).Draw(t, "share")))
	})
}

func checkSound(t interface{ Errorf(string, ...any) }, p wear.Projection) {
	ordered := 0 <= p.KmLow && p.KmLow <= p.KmMiddle && p.KmMiddle <= p.KmHigh && p.DryPer1000Km >= 0 && p.WetPer1000Km >= 0
	if !ordered || math.IsInf(p.KmMiddle, 0) || math.IsNaN(p.Newest) {
		t.Errorf("%+v", p)
	}
	if (p.Basis == wear.NotEnough || p.Reached) && p.KmHigh != 0 {
		t.Errorf("distance without a basis, or beyond the limit: %+v", p)
	}
	if p.Basis == wear.OneRate && p.DryPer1000Km != p.WetPer1000Km {
		t.Errorf("two rates: %+v", p)
	}
}

// TestAnything: no floats at all, however wild, make it panic or tell what is not a number.
func TestAnything(t *testing.T) {
	anything := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, 1e-300, 1e7, 500}))
	rapid.Check(t, func(t *rapid.T) {
		part := wear.Part{Limit: anything.Draw(t, "limit"), Rising: rapid.Bool().Draw(t, "rising"), FloorSpread: anything.Draw(t, "error")}
		for range rapid.IntRange(0, 40).Draw(t, "readings") {
			part.Readings = append(part.Readings, wear.Reading{Km: anything.Draw(t, "km"), WetKm: anything.Draw(t, "wet"), Value: anything.Draw(t, "value")})
		}
		checkSound(t, wear.Project(part, anything.Draw(t, "share")))
	})
}

// TestOrder: it does not matter in which order readings are given.
func TestOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := drawPart(t)
		want := wear.Project(part, 0.3)
		part.Readings = rapid.Permutation(part.Readings).Draw(t, "order")
		if got := wear.Project(part, 0.3); got != want {
			t.Errorf("%+v, in another order %+v", want, got)
		}
	})
}

// TestUnit: in half the unit, all figures of wear double and no distance changes.
func TestUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := drawPart(t)
		want := wear.Project(part, 0.3)
		want.Newest, want.DryPer1000Km, want.WetPer1000Km = 2*want.Newest, 2*want.DryPer1000Km, 2*want.WetPer1000Km
		part.Limit, part.FloorSpread = 2*part.Limit, 2*part.FloorSpread
		for i := range part.Readings {
			part.Readings[i].Value *= 2
		}
		if got := wear.Project(part, 0.3); got != want {
			t.Errorf("%+v, doubled %+v", want, got)
		}
	})
}

// TestMirror: a value that falls to its limit is as one that rises to it.
func TestMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := drawPart(t)
		want := wear.Project(part, 0.3)
		want.Newest = 0 - want.Newest
		part.Limit, part.Rising = -part.Limit, !part.Rising
		for i := range part.Readings {
			part.Readings[i].Value *= -1
		}
		if got := wear.Project(part, 0.3); got != want {
			t.Errorf("%+v, mirrored %+v", want, got)
		}
	})
}

// TestMoreWearIsNeverLater: with one rate, a newest reading that is more worn brings every distance nearer, and so does
// a limit that is nearer. So does faster wear all along, wet and dry told apart or not.
func TestMoreWearIsNeverLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := drawPart(t)
		part.Rising = true
		for i := range part.Readings {
			part.Readings[i].WetKm = 0
		}
		more := rapid.Float64Range(0, 1).Draw(t, "more")
		before := wear.Project(part, 0)
		worn, strict := part, part
		worn.Readings = append([]wear.Reading(nil), part.Readings...)
		if n := len(worn.Readings); n > 0 {
			worn.Readings[n-1].Value += more
		}
		strict.Limit -= more
		notLater(t, before, wear.Project(worn, 0))
		notLater(t, before, wear.Project(strict, 0))
	})
	rapid.Check(t, func(t *rapid.T) {
		part := drawPart(t)
		part.FloorSpread, part.Rising = 0, true
		for i := range part.Readings { // wear that never goes back
			if i > 0 {
				part.Readings[i].Value = max(part.Readings[i].Value, part.Readings[i-1].Value)
			}
		}
		faster := part
		faster.Readings = append([]wear.Reading(nil), part.Readings...)
		times := rapid.SampledFrom([]float64{1, 2, 4}).Draw(t, "times")
		for i := range faster.Readings {
			faster.Readings[i].Value = part.Readings[0].Value + times*(part.Readings[i].Value-part.Readings[0].Value)
		}
		notLater(t, wear.Project(part, 0.3), wear.Project(faster, 0.3))
	})
}

func notLater(t *rapid.T, before, after wear.Projection) {
	const rounding = 1 + 1e-9
	if before.Basis == wear.NotEnough || before.Reached {
		return
	}
	if after.Basis == wear.NotEnough && !after.Reached {
		t.Errorf("%+v, then nothing is known: %+v", before, after)
	}
	if after.KmLow > before.KmLow*rounding+1e-6 || after.KmMiddle > before.KmMiddle*rounding+1e-6 || after.KmHigh > before.KmHigh*rounding+1e-6 {
		t.Errorf("%+v, then later: %+v", before, after)
	}
}
