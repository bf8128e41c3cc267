package pace

import (
	"fmt"
	"math"
)

// Params are the figures of the power balance for the average rider of a
// group. Take [Defaults] and change what is known better. The ranges are what
// Plan accepts.
type Params struct {
	// MassKg is rider, bike, clothes and load together: 40 to 250, default 90
	// (75 kg rider, 15 kg winter bike, guards, lights, clothes, drink: common
	// practice, no source; also the mass in Martin's example).
	MassKg float64
	// CdAM2 is drag coefficient times frontal area, in m2: 0.1 to 1, default
	// 0.36 (upright enough to see, in winter clothes: common practice, no
	// source; Martin's racer in his example has 0.2565).
	CdAM2 float64
	// Crr is the coefficient of rolling resistance: 0.001 to 0.03, default
	// 0.006 (0.003 to 0.004 good road, 0.005 to 0.008 rough, wet or heavy
	// tyre: common practice, no source).
	Crr float64
	// Efficiency is the share of the power at the cranks that reaches the
	// wheel: 0.8 to 1, default 0.976 (Martin 1998).
	Efficiency float64
	// FwM2 is the extra drag area of the turning spokes, in m2: 0 to 0.02,
	// default 0.0044 (Martin 1998).
	FwM2 float64
	// BearingN and BearingNsPerM are the drag of the wheel bearings, BearingN +
	// BearingNsPerM x speed in m/s, in newtons: 0 to 1 each, default 0.091 and
	// 0.0087 (Martin 1998).
	BearingN, BearingNsPerM float64
	// DraftFactor is the share of a lone rider's air drag that the average
	// rider of the group feels: 0.3 to 1, default 0.75. In a line of four the
	// leader needs 97 to 98 % of a lone rider's power, the second 71 % of the
	// leader's, the others 65 %: 74 % on average (Broker, Kyle, Burke 1999,
	// Medicine and Science in Sports and Exercise 31); taken as a share of drag.
	DraftFactor float64
	// ClimbReserveW is the power, in watts, that riders put in uphill beyond
	// what the flat pace takes: 0 to 300, default 40. A group rides the flat
	// within itself, and the slower it is the more so; power held constant uphill
	// would have a group of 19.5 km/h average 14 in rolling country. 40 W brings
	// the average of a hilly winter ride to 2 or 3 km/h below the flat pace, on
	// the late side of what clubs see (common practice, no source). It comes in
	// evenly between gradients of 0 and 4 % (ours).
	ClimbReserveW float64
	// AirDensityKgM3 is the density of the air that the pace is meant in, and
	// of the day's air where that is not known: 0.7 to 1.6, default 1.225
	// (ICAO standard atmosphere at sea level).
	AirDensityKgM3 float64
	// GravityMS2 is the acceleration of free fall, in m/s2: 9.7 to 9.9,
	// default 9.80665 (standard gravity, 3rd CGPM 1901).
	GravityMS2 float64
	// WindFactor brings the wind at 10 m down to rider height: 0 to 1, default
	// 2/3. FCM-R19-2003, the report behind the 2001 wind chill index, takes the
	// wind at 10 m as 1.5 times that at face level, over open ground; hedges
	// and houses leave less.
	WindFactor float64
	// CapDownhillKmh is the greatest speed, in km/h, where the road falls by
	// 1 % or more; CapDownhillWetKmh and CapDownhillIcyKmh the same on a wet
	// and on an icy road: 5 to 100, defaults 50, 40 and 20 (common practice,
	// no source).
	CapDownhillKmh, CapDownhillWetKmh, CapDownhillIcyKmh float64
}

// Defaults are the figures for a winter group that sits in line.
func Defaults() Params {
	return Params{
		MassKg: 90, CdAM2: 0.36, Crr: 0.006, Efficiency: 0.976, FwM2: 0.0044,
		BearingN: 0.091, BearingNsPerM: 0.0087, DraftFactor: 0.75, ClimbReserveW: 40,
		AirDensityKgM3: 1.225, GravityMS2: 9.80665, WindFactor: 2.0 / 3,
		CapDownhillKmh: 50, CapDownhillWetKmh: 40, CapDownhillIcyKmh: 20,
	}
}

// check tells which figure is out of its range.
func (p Params) check() error {
	for _, f := range []struct {
		name        string
		v, min, max float64
	}{
		{"mass_kg", p.MassKg, 40, 250},
		{"cda_m2", p.CdAM2, 0.1, 1},
		{"crr", p.Crr, 0.001, 0.03},
		{"efficiency", p.Efficiency, 0.8, 1},
		{"fw_m2", p.FwM2, 0, 0.02},
		{"bearing_n", p.BearingN, 0, 1},
		{"bearing_ns_per_m", p.BearingNsPerM, 0, 1},
		{"draft_factor", p.DraftFactor, 0.3, 1},
		{"climb_reserve_w", p.ClimbReserveW, 0, 300},
		{"air_density_kg_m3", p.AirDensityKgM3, minDensity, maxDensity},
		{"gravity_m_s2", p.GravityMS2, 9.7, 9.9},
		{"wind_factor", p.WindFactor, 0, 1},
		{"cap_downhill_kmh", p.CapDownhillKmh, 5, 100},
		{"cap_downhill_wet_kmh", p.CapDownhillWetKmh, 5, 100},
		{"cap_downhill_icy_kmh", p.CapDownhillIcyKmh, 5, 100},
	} {
		if !(f.v >= f.min && f.v <= f.max) {
			return fmt.Errorf("%s is %g: it must be from %g to %g; leave it at its default unless it was measured", f.name, f.v, f.min, f.max)
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
	case gradient > downhillGradient:
		return math.Inf(1)
	case air.Icy:
		return kmh(p.CapDownhillIcyKmh)
	case air.Wet:
		return kmh(p.CapDownhillWetKmh)
	}
	return kmh(p.CapDownhillKmh)
}

// downhillGradient is where the downhill caps begin: ours.
const downhillGradient = -0.01
