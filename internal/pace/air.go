package pace

import (
	"fmt"
	"math"
	"time"
)

// MaxWindKmh is the strongest wind taken: a mean wind above is far beyond a
// hurricane's 118 km/h (Beaufort 12), so it is a slip of the pen.
const MaxWindKmh = 150

// Air is the weather as it bears on speed.
type Air struct {
	WindKmh        float64 // mean wind at 10 m, as forecasts give it, km/h; Params.WindFactor brings it down
	WindFromDeg    float64 // where it comes from, degrees from north through east, 0 to 360
	AirDensityKgM3 float64 // 0.7 to 1.6; 0 where not known: Params.AirDensityKgM3 is taken
	Wet, Icy       bool    // the road
}

// Spell is the air from a moment on, until the next spell begins. The first
// holds before its moment too. Without spells the air is still and the road dry.
type Spell struct {
	From time.Time
	Air  Air
}

// check tells which figure of the i-th spell cannot be.
func (s Spell) check(i int) error {
	a := s.Air
	switch {
	case s.From.IsZero():
		return fmt.Errorf("spells[%d].from is not set: say from when the weather holds", i)
	case !(a.WindKmh >= 0 && a.WindKmh <= MaxWindKmh):
		return fmt.Errorf("spells[%d].wind_kmh is %g: it must be from 0 to %d; give the mean wind at 10 m in km/h", i, a.WindKmh, MaxWindKmh)
	case !(a.WindFromDeg >= 0 && a.WindFromDeg <= 360):
		return fmt.Errorf("spells[%d].wind_from_deg is %g: it must be from 0 to 360; give where the wind comes from, 90 for east", i, a.WindFromDeg)
	case a.AirDensityKgM3 != 0 && !(a.AirDensityKgM3 >= minDensity && a.AirDensityKgM3 <= maxDensity):
		return fmt.Errorf("spells[%d].air_density_kg_m3 is %g: it must be from %g to %g, or 0 where it is not known", i, a.AirDensityKgM3, minDensity, maxDensity)
	}
	return nil
}

// blow is the wind at rider height as a vector towards where it comes from,
// east and north, in m/s.
func (a Air) blow(factor float64) (eastMS, northMS float64) {
	sin, cos := math.Sincos(a.WindFromDeg * math.Pi / 180)
	v := kmh(a.WindKmh) * factor
	return v * sin, v * cos
}
