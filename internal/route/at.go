package route

import (
	"math"
	"sort"
)

// At is the place a distance along the line, in metres; before the start it is
// the start, beyond the end the end. Between two points it is on the straight
// line in latitude and longitude, the short way round.
func (r *Route) At(distM float64) (latDeg, lonDeg float64) {
	i, f := r.leg(distM)
	a, b := r.Points[i], r.Points[i+1]
	return a.LatDeg + f*(b.LatDeg-a.LatDeg), wrapLon(a.LonDeg + f*shortWay(b.LonDeg-a.LonDeg))
}

// ElevAt is the smoothed elevation, in metres, a distance along the line; 0 if
// the route has no elevation.
func (r *Route) ElevAt(distM float64) float64 {
	i, f := r.leg(distM)
	a, b := r.Points[i], r.Points[i+1]
	return a.SmoothElevM + f*(b.SmoothElevM-a.SmoothElevM)
}

// leg is the point before a distance, and the share of the way to the next.
func (r *Route) leg(distM float64) (before int, share float64) {
	n := len(r.Points)
	if !(distM > 0) {
		return 0, 0
	}
	i := sort.Search(n, func(k int) bool { return r.Points[k].DistM >= distM })
	if i == n {
		return n - 2, 1
	}
	a, b := r.Points[i-1].DistM, r.Points[i].DistM
	return i - 1, (distM - a) / (b - a)
}

// shortWay brings a difference of longitude into -180 to 180 degrees.
func shortWay(dLon float64) float64 {
	if math.Abs(dLon) > 180 {
		return math.Remainder(dLon, 360)
	}
	return dLon
}

// wrapLon brings a longitude that went over the date line back.
func wrapLon(lon float64) float64 {
	if math.Abs(lon) > 180 {
		return math.Remainder(lon, 360)
	}
	return lon
}
