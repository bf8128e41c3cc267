package route

import "math"

// sameOffM: of two passes this alike in distance the earlier is meant, so that
// a waypoint on an out-and-back is met on the way out. Common practice, no source.
const sameOffM = 5.0

// lay puts a waypoint on the line, where the line first passes (nearly) nearest.
func (r *Route) lay(w Waypoint, line []vector) Waypoint {
	here := vectorOf(w.LatDeg, w.LonDeg)
	least := math.Inf(1)
	for i := 0; i+1 < len(line); i = r.skip(i, here.apartM(line[i])-least) {
		_, off := here.nearest(line[i], line[i+1])
		least = min(least, off)
	}
	leg, share, best := -1, 0.0, math.Inf(1)
	for i := 0; i+1 < len(line); i = r.skip(i, here.apartM(line[i])-least-sameOffM) {
		s, off := here.nearest(line[i], line[i+1])
		if leg >= 0 && off > least+sameOffM {
			break // the first pass is over
		}
		if off <= least+sameOffM && off < best {
			leg, share, best = i, s, off
		}
	}
	a, b := r.Points[leg], r.Points[leg+1]
	w.DistM = a.DistM + share*(b.DistM-a.DistM)
	lat, lon := r.At(w.DistM)
	w.OffM = DistanceM(w.LatDeg, w.LonDeg, lat, lon)
	return w
}

// skip is the next leg after i that may lead more than roomM away from point i:
// what lies further off than that cannot be reached on the legs before.
func (r *Route) skip(i int, roomM float64) int {
	until := r.Points[i].DistM + roomM
	for i++; i+1 < len(r.Points) && r.Points[i+1].DistM < until; i++ {
	}
	return i
}
