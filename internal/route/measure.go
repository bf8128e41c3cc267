package route

import (
	"fmt"
	"math"
	"slices"
)

// New measures a line of stored coordinates, with its waypoints (whose DistM
// and OffM are worked out anew). It refuses a coordinate that is not finite or
// out of range, fewer than two different points, more than MaxPoints, and a
// line not from MinDistanceM to MaxDistanceM long.
func New(name string, coords []Coord, wpts []Waypoint) (*Route, error) {
	if len(coords) > MaxPoints {
		return nil, &Error{What: fmt.Sprintf("the line has %d points, more than %d", len(coords), MaxPoints), Next: "thin out its points"}
	}
	if err := checked(coords, wpts); err != nil {
		return nil, err
	}
	r := &Route{Name: oneLine(name, MaxNameRunes)}
	unusable := r.takePoints(coords)
	if len(r.Points) < 2 || r.DistanceM < MinDistanceM {
		return nil, tooFew()
	}
	if r.DistanceM > MaxDistanceM {
		return nil, &Error{
			What: fmt.Sprintf("the line is %s long, more than %s", metres(r.DistanceM), metres(MaxDistanceM)),
			Next: "look for points in the wrong place, or split it into rides",
		}
	}
	r.Bounds = boundsOf(r.Points)
	line := vectorsOf(r.Points)
	r.Shape = shapeOf(r, line)
	r.noteSegments()
	r.noteStraights()
	r.measureElevation(unusable)
	for _, w := range wpts {
		r.Waypoints = append(r.Waypoints, r.lay(w, line))
	}
	r.noteMeeting()
	return r, nil
}

// checked finds a coordinate that is no place on earth.
func checked(coords []Coord, wpts []Waypoint) error {
	bad := func(lat, lon float64) bool { return !(math.Abs(lat) <= 90 && math.Abs(lon) <= 180) }
	refuse := func(what string, i int, lat, lon float64) error {
		return &Error{
			What: fmt.Sprintf("%s %d is at latitude %g, longitude %g, which is not on earth", what, i+1, lat, lon),
			Next: "correct or remove it",
		}
	}
	for i, c := range coords {
		if bad(c.LatDeg, c.LonDeg) {
			return refuse("point", i, c.LatDeg, c.LonDeg)
		}
	}
	for i, w := range wpts {
		if bad(w.LatDeg, w.LonDeg) {
			return refuse("waypoint", i, w.LatDeg, w.LonDeg)
		}
	}
	return nil
}

// takePoints measures the points, leaving out those at the place of the one
// before (the last elevation known there counts). It returns how many
// elevations were not usable.
func (r *Route) takePoints(coords []Coord) (unusable int) {
	r.Points = make([]Point, 0, len(coords))
	for i, c := range coords {
		if c.ElevM < minElevM || c.ElevM > maxElevM {
			c.ElevM = math.NaN()
			unusable++
		}
		p := Point{LatDeg: c.LatDeg, LonDeg: c.LonDeg, ElevM: c.ElevM, NewSegment: c.NewSegment && i > 0}
		if i > 0 && samePlace(c, coords[i-1]) {
			if last := &r.Points[len(r.Points)-1]; !math.IsNaN(c.ElevM) {
				last.ElevM = c.ElevM
			}
			continue
		}
		if i > 0 {
			d := apartM(coords[i-1], c)
			r.DistanceM += d
			if !p.NewSegment {
				r.SegmentsDistanceM += d
			}
		}
		p.DistM = r.DistanceM
		r.Points = append(r.Points, p)
	}
	r.Points = slices.Clip(r.Points)
	return unusable
}

// boundsOf is the box around the points; longitudes are followed over the
// date line, then brought back.
func boundsOf(points []Point) Bounds {
	lon := points[0].LonDeg
	b := Bounds{points[0].LatDeg, lon, points[0].LatDeg, lon}
	turns := 0.0
	for i := 1; i < len(points); i++ {
		step := points[i].LonDeg - points[i-1].LonDeg
		turns += math.Round((shortWay(step)-step)/360) * 360
		lon = points[i].LonDeg + turns
		b.MinLatDeg, b.MaxLatDeg = min(b.MinLatDeg, points[i].LatDeg), max(b.MaxLatDeg, points[i].LatDeg)
		b.MinLonDeg, b.MaxLonDeg = min(b.MinLonDeg, lon), max(b.MaxLonDeg, lon)
	}
	if b.MaxLonDeg-b.MinLonDeg >= 360 {
		b.MinLonDeg, b.MaxLonDeg = -180, 180
	}
	b.MinLonDeg, b.MaxLonDeg = wrapLon(b.MinLonDeg), wrapLon(b.MaxLonDeg)
	return b
}
