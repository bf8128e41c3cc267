package pace

import "math"

// Params are the figures of the power balance for the average rider of a
// group. Take [Defaults] and change what is known better. What each one means,
// its range, its default and where that comes from stand in [Parameters].
type Params struct {
	MassKg, CdAM2, Crr, Efficiency, FwM2   float64
	BearingN, BearingNsPerM                float64
	DraftFactor                            float64
	ClimbReserveW, ClimbReserveFullPct     float64
	AirDensityKgM3, GravityMS2, WindFactor float64
	CapDryKmh, CapWetKmh, CapIcyKmh        float64
	CapFromFallPct                         float64
	PushKmh                                float64
}

// Defaults are the figures for a winter group that sits in line.
func Defaults() Params {
	var p Params
	for _, f := range parameters {
		*f.of(&p) = f.Default
	}
	return p
}

// check tells which figure is out of its range.
func (p Params) check() error {
	for _, f := range parameters {
		if err := f.check(*f.of(&p)); err != nil {
			return err
		}
	}
	return nil
}

// Densities outside are on no road: 0.7 is beyond the highest passes, 1.6
// beyond the coldest winters. NaN lies outside too.
const minDensity, maxDensity = 0.7, 1.6

// kmh turns km/h into m/s.
func kmh(v float64) float64 { return v / 3.6 }

// capMS is the greatest speed of a stretch, in m/s.
func (p Params) capMS(gradient float64, air Air) float64 {
	switch {
	case gradient > -p.CapFromFallPct/100:
		return math.Inf(1)
	case air.Icy:
		return kmh(p.CapIcyKmh)
	case air.Wet:
		return kmh(p.CapWetKmh)
	}
	return kmh(p.CapDryKmh)
}

// powerW is what the riders put in, in watts at the cranks: the power of the
// flat pace, and uphill the reserve, evenly from none on the flat to all of it
// at the gradient where it is full.
func (p Params) powerW(flatW, gradient float64) float64 {
	return flatW + p.ClimbReserveW*min(1, max(0, gradient/(p.ClimbReserveFullPct/100)))
}
