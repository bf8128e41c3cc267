package render

import (
	"fmt"
	"math"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// Measures of the map and the profile in their own units: as wide as a small telephone.
const (
	mapWidth  px = 360
	mapMargin px = 22
	mapLeast  px = 150
	mapMost   px = 330
	// markRadius is how large a numbered mark is.
	markRadius px = 8
	// mostDrawn is how many points of a line are drawn at most: more cannot be told apart at this size.
	mostDrawn = 700
	// mostLooked is how many points are looked at, so that a hostile file costs little.
	mostLooked = 20_000
)

// routeMap is a map laid out: what the template writes.
type routeMap struct {
	ID, Title, Desc string
	Width, Height   px
	Tiles           []tile
	Line            string
	Climbs          []string
	Descents        []string
	Heads           []arrowhead
	Kilometres      []label
	Start           mark
	Home            *mark // nil where it is at the start
	Marks           []mark
	Scale           scaleBar
}

// mark is a numbered place; a leader goes from it to its place on the line.
type mark struct {
	Kind, Text   string
	X, Y         px
	AtX, AtY     px
	Away         bool // a leader is drawn
	Outline      string
	TextX, TextY px
}

// arrowhead shows which way a route is ridden.
type arrowhead struct {
	X, Y px
	Turn px // degrees
}

type scaleBar struct {
	X1, X2, Y px
	Text      string
}

// flat lays stations out on a map.
type flat struct {
	x0, y0, unit float64 // world of the left edge and the top, and units for the whole world
	height       px
}

func newFlat(way []station) flat {
	left, right, top, bottom := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, s := range way {
		left, right, top, bottom = math.Min(left, s.x), math.Max(right, s.x), math.Min(top, s.y), math.Max(bottom, s.y)
	}
	wide, deep := math.Max(right-left, 1e-7), math.Max(bottom-top, 1e-7)
	unit := math.Min(float64(mapWidth-2*mapMargin)/wide, float64(mapMost-2*mapMargin)/deep)
	height := math.Max(float64(mapLeast), deep*unit+2*float64(mapMargin))
	return flat{
		x0: (left+right)/2 - float64(mapWidth)/2/unit, y0: (top+bottom)/2 - height/2/unit, unit: unit, height: px(height),
	}
}

func (f flat) x(s station) px { return px((s.x - f.x0) * f.unit) }
func (f flat) y(s station) px { return px((s.y - f.y0) * f.unit) }

// drawn are the points of a line that are drawn.
func (f flat) drawn(way []station) []station {
	near := 0.25 / f.unit
	var some []station
	for i, s := range way {
		if n := len(some); n == 0 || s.begins || i+1 == len(way) || i+1 < len(way) && way[i+1].begins || math.Hypot(s.x-some[n-1].x, s.y-some[n-1].y) >= near {
			some = append(some, s)
		}
	}
	for step := len(some)/mostLooked + 1; step > 1; step = 1 {
		var fewer []station
		for i := 0; i < len(some); i += step {
			fewer = append(fewer, some[i])
		}
		some = append(fewer, some[len(some)-1])
	}
	thin := some
	for off := 0.35 / f.unit; ; off *= 1.6 {
		if thin = thinned(some, off); len(thin) <= mostDrawn || off*f.unit > 50 {
			return thin
		}
	}
}

// path is a line as SVG writes it.
func (f flat) path(way []station) string {
	var b strings.Builder
	for i, s := range way {
		letter := "L"
		if i == 0 || s.begins {
			letter = "M"
		}
		fmt.Fprintf(&b, "%s%s %s", letter, f.x(s), f.y(s))
	}
	return b.String()
}

// drawMap lays out the map of a route.
func drawMap(way []station, line *pb.RouteLine, ride *pb.Ride, places []RoutePlace, id string) (*routeMap, flat) {
	f := newFlat(way)
	m := &routeMap{ID: id, Title: "The route", Desc: routeWords(ride.GetRoute(), places), Width: mapWidth, Height: f.height}
	shown := f.drawn(way)
	m.Line = f.path(shown)
	for _, climb := range line.GetClimbs() {
		m.Climbs = append(m.Climbs, f.path(between(shown, climb.GetFromM(), climb.GetToM())))
	}
	for _, descent := range line.GetDescents() {
		m.Descents = append(m.Descents, f.path(between(shown, descent.GetFromM(), descent.GetToM())))
	}
	m.heads(f, shown)
	placer := newPlacer(f, shown)
	m.scale(f, way)
	for x := m.Scale.X1; x < m.Scale.X2+40; x += 12 {
		placer.take(x, m.Scale.Y)
	}
	placer.take(mapWidth-12, 18)
	first, last := way[0], way[len(way)-1]
	m.Start = placer.point(first, "start", "Start")
	if math.Hypot(float64(f.x(first)-f.x(last)), float64(f.y(first)-f.y(last))) > 14 {
		home := placer.point(last, "home", "Home")
		m.Home = &home
	}
	for _, place := range places {
		m.Marks = append(m.Marks, placer.mark(stationAt(way, place.at), place))
	}
	m.kilometres(f, placer, way)
	return m, f
}

// heads shows the way ridden at a few places, apart from the ends.
func (m *routeMap) heads(f flat, way []station) {
	const many = 6
	whole := way[len(way)-1].at
	for i := 1; i <= many; i++ {
		at := whole * (float64(i) - .5) / many
		a, b := stationAt(way, at-whole/400), stationAt(way, at+whole/400)
		dx, dy := float64(f.x(b)-f.x(a)), float64(f.y(b)-f.y(a))
		if math.Hypot(dx, dy) < 0.5 {
			continue
		}
		s := stationAt(way, at)
		m.Heads = append(m.Heads, arrowhead{f.x(s), f.y(s), px(math.Atan2(dy, dx) * 180 / math.Pi)})
	}
}

// kilometres writes how far it is at round distances, where there is room.
func (m *routeMap) kilometres(f flat, placer *placer, way []station) {
	whole := way[len(way)-1].at
	step := 10_000.0
	for whole/step > 8 {
		step *= 2
	}
	for at := step; at < whole-step/3; at += step {
		s := stationAt(way, at)
		if x, y, free := placer.free(f.x(s), f.y(s), 9, []px{15}); free {
			placer.take(x, y)
			m.Kilometres = append(m.Kilometres, label{x, y + 3.5, phrase.Number(at/1000, 0), "middle"})
		}
	}
}

// scale draws a length of round kilometres. A map in this projection is larger towards the poles.
func (m *routeMap) scale(f flat, way []station) {
	const around = 40_075_016.7 // of WGS84 at the equator, m
	lat := math.Atan(math.Sinh(math.Pi * (1 - 2*way[0].y)))
	perUnit := around * math.Cos(lat) / f.unit
	long := 0.1
	for _, km := range []float64{.2, .5, 1, 2, 5, 10, 20, 50, 100} {
		if km*1000/perUnit <= 80 {
			long = km
		}
	}
	m.Scale = scaleBar{10, 10 + px(long*1000/perUnit), f.height - 8, phrase.Number(long, 1) + " km"}
}
