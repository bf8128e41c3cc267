package render

import (
	"math"
	"sort"

	pb "gritward/proto/gritward/v1"
)

// station is a point of a route laid out: where it lies on the map, in whole turns of the world, and along the way.
type station struct {
	x, y   float64 // Web Mercator (EPSG:3857), from 0 at 180 degrees west and the northern edge to 1
	at     float64 // along the route, m
	elevM  float64
	begins bool // begins a new segment
}

// stations are the points of a line, with longitudes that go on over the date line.
func stations(line *pb.RouteLine) []station {
	n := min(len(line.GetLatDeg()), len(line.GetLonDeg()), len(line.GetAtDistanceM()))
	out := make([]station, 0, n)
	turns := 0.0
	for i := range n {
		lat, lon := line.LatDeg[i], line.LonDeg[i]
		if i > 0 {
			switch d := lon - line.LonDeg[i-1]; {
			case d > 180:
				turns--
			case d < -180:
				turns++
			}
		}
		s := station{x: (lon+180)/360 + turns, y: mercator(lat), at: line.AtDistanceM[i]}
		if i < len(line.SmoothElevM) {
			s.elevM = float64(line.SmoothElevM[i])
		}
		out = append(out, s)
	}
	for _, i := range line.GetSegmentStarts() {
		if int(i) < len(out) {
			out[i].begins = true
		}
	}
	return out
}

// mercator is how far down the world a latitude lies, kept within the square that maps are made of: 85.05 degrees.
func mercator(latDeg float64) float64 {
	lat := math.Max(-85.05, math.Min(85.05, latDeg)) * math.Pi / 180
	return (1 - math.Asinh(math.Tan(lat))/math.Pi) / 2
}

// stationAt is where a route is at a distance; between points on the straight line.
func stationAt(way []station, at float64) station {
	i := sort.Search(len(way)-1, func(i int) bool { return way[i].at >= at })
	if i == 0 {
		return way[0]
	}
	a, b := way[i-1], way[i]
	share := 0.0
	if b.at > a.at {
		share = math.Max(0, math.Min(1, (at-a.at)/(b.at-a.at)))
	}
	return station{x: a.x + share*(b.x-a.x), y: a.y + share*(b.y-a.y), at: at, elevM: a.elevM + share*(b.elevM-a.elevM)}
}

// between is the part of a route from one distance to another.
func between(way []station, from, to float64) []station {
	out := []station{stationAt(way, from)}
	for _, s := range way {
		if s.at > from && s.at < to {
			out = append(out, s)
		}
	}
	return append(out, stationAt(way, to))
}

// thinned is a line with as few of its points as draw it within off, by the way of Douglas and Peucker (Cartographica 10:112,
// 1973). Ends of segments stay.
func thinned(way []station, off float64) []station {
	keep := make([]bool, len(way))
	type span struct{ from, to int }
	var open []span
	for from := 0; from < len(way); {
		to := from
		for to+1 < len(way) && !way[to+1].begins {
			to++
		}
		keep[from], keep[to] = true, true
		open = append(open, span{from, to})
		from = to + 1
	}
	for len(open) > 0 {
		s := open[len(open)-1]
		open = open[:len(open)-1]
		far, most := -1, off
		for i := s.from + 1; i < s.to; i++ {
			if d := offLine(way[i], way[s.from], way[s.to]); d > most {
				far, most = i, d
			}
		}
		if far >= 0 {
			keep[far] = true
			open = append(open, span{s.from, far}, span{far, s.to})
		}
	}
	var out []station
	for i, s := range way {
		if keep[i] {
			out = append(out, s)
		}
	}
	return out
}

// offLine is how far a point lies from the line between two others.
func offLine(p, a, b station) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	if long := dx*dx + dy*dy; long > 0 {
		share := math.Max(0, math.Min(1, ((p.x-a.x)*dx+(p.y-a.y)*dy)/long))
		return math.Hypot(p.x-a.x-share*dx, p.y-a.y-share*dy)
	}
	return math.Hypot(p.x-a.x, p.y-a.y)
}
