package pace

import (
	"math"

	"gritward/internal/route"
)

// stretchM is the length, at most, of the equal stretches a line is cut into:
// short against a hill or a bend of the road, long enough to be quick, and in
// keeping with the smoothing of the elevations.
const stretchM = 75.0

// stretch is a piece of the line on which speed is taken as constant.
type stretch struct {
	fromM, lengthM float64
	gradient       float64 // rise over run, of the smoothed line
	// east and north are how far it leads each way, per metre of it: less than
	// 1 together where it winds, as does the wind's effect.
	east, north float64
	toLat       float64 // degrees, of its end
	toLon       float64
}

// cut divides a line into stretches.
func cut(r *route.Route) []stretch {
	n := int(math.Ceil(r.DistanceM / stretchM))
	step := r.DistanceM / float64(n)
	out := make([]stretch, n)
	lat, lon := r.At(0)
	elev := r.ElevAt(0)
	for i := range out {
		to := r.DistanceM // the last one to the very end, free of rounding
		if i < n-1 {
			to = float64(i+1) * step
		}
		s := stretch{fromM: float64(i) * step, lengthM: step}
		s.toLat, s.toLon = r.At(to)
		next := r.ElevAt(to)
		s.gradient = (next - elev) / step
		s.east, s.north = heading(lat, lon, s.toLat, s.toLon, step)
		out[i] = s
		lat, lon, elev = s.toLat, s.toLon, next
	}
	return out
}

// heading is how far two near points are apart east and north, as shares of a
// length; the earth is taken as a sphere, which turns a direction by less than
// 0.2 degrees.
func heading(lat1, lon1, lat2, lon2, lengthM float64) (east, north float64) {
	const mPerDeg = 6371008.8 * math.Pi / 180 // mean radius of the earth, IUGG
	dLon := math.Remainder(lon2-lon1, 360)
	east = dLon * math.Cos((lat1+lat2)/2*math.Pi/180) * mPerDeg / lengthM
	north = (lat2 - lat1) * mPerDeg / lengthM
	return east, north
}
