package pace

import (
	"math"
	"time"
)

// rider finds the group's speed as the air changes.
type rider struct {
	params      Params // with the day's density
	meant       Params // as the pace is meant
	flatW       float64
	timeFactor  float64
	spells      []Spell // in order, those still to come
	air         Air
	east, north float64 // wind, see Air.blow
}

func newRider(g Group, spells []Spell) *rider {
	r := &rider{params: g.Params, meant: g.Params, flatW: g.PowerW(), timeFactor: g.timeFactor(), spells: spells}
	if len(spells) > 0 {
		r.take(spells[0].Air)
	}
	return r
}

// take sets the air.
func (r *rider) take(a Air) {
	r.air = a
	r.east, r.north = a.blow(r.params.WindFactor)
	r.params.AirDensityKgM3 = a.AirDensityKgM3
	if a.AirDensityKgM3 == 0 {
		r.params.AirDensityKgM3 = r.meant.AirDensityKgM3
	}
}

// changesIn is how long the air stays as it is.
func (r *rider) changesIn(now time.Time) time.Duration {
	if len(r.spells) == 0 {
		return math.MaxInt64
	}
	return r.spells[0].From.Sub(now)
}

// speedMS is the speed on a stretch at a moment.
func (r *rider) speedMS(s stretch, now time.Time) float64 {
	for len(r.spells) > 0 && !r.spells[0].From.After(now) {
		r.take(r.spells[0].Air)
		r.spells = r.spells[1:]
	}
	v := SpeedMS(r.params, r.params.powerW(r.flatW, s.gradient), s.gradient, r.east*s.east+r.north*s.north)
	top := r.params.capMS(s.gradient, r.air)
	v = max(kmh(r.params.PushKmh), min(v, top))
	return min(v/r.timeFactor, top) // a group found to be quick is so within the caps
}
