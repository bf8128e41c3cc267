package route

// Limits of the shapes: common practice, no source.
const (
	closeM      = 250.0 // a loop ends this near its start
	closeShare  = 0.1   // and nearer than this share of its length
	retraceM    = 50.0  // the way back lies this near the way out
	retraceLeft = 0.85  // for at least this share of it
	samples     = 100
)

// shapeOf tells loop, out-and-back and point-to-point apart.
func shapeOf(r *Route, line []vector) Shape {
	first, last := r.Points[0], r.Points[len(r.Points)-1]
	apart := DistanceM(first.LatDeg, first.LonDeg, last.LatDeg, last.LonDeg)
	if apart > min(closeM, closeShare*r.DistanceM) {
		return PointToPoint
	}
	same := 0
	near := min(retraceM, closeShare*r.DistanceM)
	for i := range samples {
		out := r.DistanceM / 2 * (float64(i) + 0.5) / samples
		if r.backNear(line, out, near) {
			same++
		}
	}
	if float64(same) >= retraceLeft*samples {
		return OutAndBack
	}
	return Loop
}

// backNear tells whether the way back passes within nearM of the place that is
// outM along the way out. The two ways may differ in length by 5 %.
func (r *Route) backNear(line []vector, outM, nearM float64) bool {
	here := vectorOf(r.At(outM))
	slack := 0.05 * r.DistanceM / 2
	from := r.DistanceM - outM - slack
	i, _ := r.leg(max(from, r.DistanceM/2))
	for ; i+1 < len(r.Points) && r.Points[i].DistM <= r.DistanceM-outM+slack; i++ {
		if _, off := here.nearest(line[i], line[i+1]); off <= nearM {
			return true
		}
	}
	return false
}
