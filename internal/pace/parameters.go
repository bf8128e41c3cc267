package pace

import (
	"fmt"
	"slices"
)

// Parameter is one figure of [Params].
type Parameter struct {
	// Name is its key in files and flags, with its unit at the end.
	Name string
	// Unit is its unit as people write it; "" for a plain number.
	Unit string
	// Min, Max and Default are in that unit; both ends are allowed.
	Min, Max, Default float64
	// What says what it is.
	What string
	// Source says where the default comes from.
	Source string
	of     func(*Params) *float64
}

// Parameters are all figures of [Params] that can be set, in the order in which
// they are told.
func Parameters() []Parameter { return slices.Clone(parameters) }

// Set sets the figure of a name. It refuses a name that no figure has, and a
// value out of the figure's range.
func (p *Params) Set(name string, v float64) error {
	for _, f := range parameters {
		if f.Name == name {
			if err := f.check(v); err != nil {
				return err
			}
			*f.of(p) = v
			return nil
		}
	}
	return fmt.Errorf("%q is no figure of the power balance", name)
}

// check tells whether a value lies in the range; NaN does not.
func (f Parameter) check(v float64) error {
	if v >= f.Min && v <= f.Max {
		return nil
	}
	return fmt.Errorf("%s is %g: it must be from %g to %g; leave it at its default unless it was measured", f.Name, v, f.Min, f.Max)
}

const (
	martin  = "Martin et al. 1998"
	noProof = "common practice, no source"
)

var parameters = []Parameter{
	{"mass_kg", "kg", 40, 250, 90, "rider, bike, clothes and load together",
		"75 kg rider and 15 kg of winter bike and kit: common practice, no source; also the mass in the example of " + martin,
		func(p *Params) *float64 { return &p.MassKg }},
	{"cda_m2", "m2", 0.1, 1, 0.36, "drag coefficient times frontal area of a rider alone",
		"upright enough to see, in winter clothes: common practice, no source; the racer in the example of " + martin + " has 0.2565",
		func(p *Params) *float64 { return &p.CdAM2 }},
	{"crr", "", 0.001, 0.03, 0.006, "coefficient of rolling resistance",
		"0.003 to 0.004 good road, 0.005 to 0.008 rough, wet or heavy tyre: common practice, no source",
		func(p *Params) *float64 { return &p.Crr }},
	// Broker, Kyle, Burke 1999: in a line of four the leader needs 97 to 98 % of
	// a lone rider's power, the second 71 % of the leader's, the others 65 %.
	{"draft_factor", "", 0.3, 1, 0.75, "share of a lone rider's air drag that the average rider of the group feels",
		"74 % on average in a line of four: Broker, Kyle, Burke 1999, Medicine and Science in Sports and Exercise 31; taken as a share of drag",
		func(p *Params) *float64 { return &p.DraftFactor }},
	// A group rides the flat within itself, and the slower it is the more so;
	// power held constant uphill would have a group of 19.5 km/h average 14 in
	// rolling country. 40 W brings the average of a hilly winter ride to 2 or 3
	// km/h below the flat pace.
	{"climb_reserve_w", "W", 0, 300, 40, "power put in uphill beyond what the flat pace takes",
		"an average 2 or 3 km/h below the flat pace in hills, on the late side of what clubs see: common practice, no source",
		func(p *Params) *float64 { return &p.ClimbReserveW }},
	{"climb_reserve_full_pct", "%", 0.5, 20, 4, "gradient from which all of the climbing reserve is put in; less below, in proportion",
		"ours", func(p *Params) *float64 { return &p.ClimbReserveFullPct }},
	{"cap_dry_kmh", "km/h", 15, 100, 50, "greatest speed downhill on a dry road", noProof,
		func(p *Params) *float64 { return &p.CapDryKmh }},
	{"cap_wet_kmh", "km/h", 10, 100, 40, "greatest speed downhill on a wet road", noProof,
		func(p *Params) *float64 { return &p.CapWetKmh }},
	{"cap_icy_kmh", "km/h", 5, 60, 20, "greatest speed downhill where ice is possible", noProof,
		func(p *Params) *float64 { return &p.CapIcyKmh }},
	{"cap_from_fall_pct", "%", 0, 20, 1, "fall of the road from which the caps downhill hold", "ours",
		func(p *Params) *float64 { return &p.CapFromFallPct }},
	{"push_kmh", "km/h", 1, 6, 4, "least speed: below it riders get off and push", "walking pace: common practice, no source",
		func(p *Params) *float64 { return &p.PushKmh }},
	{"wind_factor", "", 0, 1, 2.0 / 3, "what is left at rider height of the wind at 10 m",
		"FCM-R19-2003, the report behind the 2001 wind chill index, over open ground; hedges and houses leave less",
		func(p *Params) *float64 { return &p.WindFactor }},
	{"efficiency", "", 0.8, 1, 0.976, "share of the power at the cranks that reaches the wheel", martin,
		func(p *Params) *float64 { return &p.Efficiency }},
	{"fw_m2", "m2", 0, 0.02, 0.0044, "extra drag area of the turning spokes", martin,
		func(p *Params) *float64 { return &p.FwM2 }},
	{"bearing_n", "N", 0, 1, 0.091, "drag of the wheel bearings at rest", martin,
		func(p *Params) *float64 { return &p.BearingN }},
	{"bearing_ns_per_m", "N s/m", 0, 1, 0.0087, "drag of the wheel bearings that grows with speed, for each m/s", martin,
		func(p *Params) *float64 { return &p.BearingNsPerM }},
	{"air_density_kg_m3", "kg/m3", minDensity, maxDensity, 1.225,
		"density of the air that the pace is meant in; of the day's air too where its temperature is not known",
		"ICAO standard atmosphere at sea level", func(p *Params) *float64 { return &p.AirDensityKgM3 }},
	{"gravity_m_s2", "m/s2", 9.7, 9.9, 9.80665, "acceleration of free fall", "standard gravity, 3rd CGPM 1901",
		func(p *Params) *float64 { return &p.GravityMS2 }},
}
