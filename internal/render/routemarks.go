package render

import (
	"fmt"
	"math"
)

// placer finds room for marks beside a line.
type placer struct {
	flat
	line  [][2]float64
	taken [][2]float64
}

func newPlacer(f flat, way []station) *placer {
	p := &placer{flat: f}
	for i, s := range way {
		x, y := float64(f.x(s)), float64(f.y(s))
		if i > 0 && !s.begins { // and between points that lie far apart
			before := p.line[len(p.line)-1]
			for steps, j := int(math.Hypot(x-before[0], y-before[1])/6), 1; j < steps; j++ {
				share := float64(j) / float64(steps)
				p.line = append(p.line, [2]float64{before[0] + share*(x-before[0]), before[1] + share*(y-before[1])})
			}
		}
		p.line = append(p.line, [2]float64{x, y})
	}
	return p
}

func (p *placer) take(x, y px) { p.taken = append(p.taken, [2]float64{float64(x), float64(y)}) }

// free is the place around x and y, at one of the distances, that is farthest from what is drawn; free is false where
// everything would touch something.
func (p *placer) free(x, y, radius px, away []px) (bestX, bestY px, free bool) {
	best := -1.0
	for _, far := range away {
		for turn := range 12 {
			angle := float64(turn) * math.Pi / 6
			tx, ty := float64(x)+float64(far)*math.Cos(angle), float64(y)+float64(far)*math.Sin(angle)
			r := float64(radius)
			if tx < r+1 || ty < r+1 || tx > float64(mapWidth)-r-1 || ty > float64(p.height)-r-1 {
				continue
			}
			room := math.Min(nearest(p.line, tx, ty), nearest(p.taken, tx, ty)-r) - float64(far)/6
			if room > best {
				best, bestX, bestY = room, px(tx), px(ty)
			}
		}
	}
	return bestX, bestY, best > float64(radius)/2
}

// nearest is how far a point is from the nearest of others.
func nearest(of [][2]float64, x, y float64) float64 {
	least := math.Inf(1)
	for _, one := range of {
		least = math.Min(least, math.Hypot(one[0]-x, one[1]-y))
	}
	return least
}

// point is a mark on the line itself.
func (p *placer) point(s station, kind, text string) mark {
	x, y := p.x(s), p.y(s)
	p.take(x, y)
	m := mark{Kind: kind, Text: text, X: x, Y: y, AtX: x, AtY: y}
	if tx, ty, free := p.free(x, y, 12, []px{20, 26}); free {
		m.TextX, m.TextY = tx, ty+4
		p.take(tx, ty)
		return m
	}
	m.TextX, m.TextY = x, y-12
	return m
}

// mark is the numbered mark of a place, beside the line where there is room.
func (p *placer) mark(s station, place RoutePlace) mark {
	atX, atY := p.x(s), p.y(s)
	x, y, free := p.free(atX, atY, markRadius+3, []px{18, 26, 36, 48})
	if !free && x == 0 && y == 0 {
		x, y = atX, atY
	}
	p.take(x, y)
	return mark{
		Kind: place.Kind, Text: fmt.Sprint(place.Number), X: x, Y: y, AtX: atX, AtY: atY, Away: true, Outline: markOutline(place.Kind, x, y),
		TextX: x, TextY: y + map[string]px{"hazard": 5}[place.Kind] + 3.3,
	}
}

// markOutline is the shape of a mark: each kind is told from the others without colour.
func markOutline(kind string, x, y px) string {
	switch kind {
	case "hazard":
		return fmt.Sprintf("M%s %sl9.5 17h-19z", x, y-9)
	case "stop":
		return fmt.Sprintf("M%s %sh15v15h-15z", x-7.5, y-7.5)
	case "out":
		return fmt.Sprintf("M%s %sl10 10l-10 10l-10 -10z", x, y-10)
	}
	return fmt.Sprintf("M%s %sa8 8 0 1 0 16 0a8 8 0 1 0 -16 0z", x-8, y)
}

// MarkOutline is the shape of a mark around 0,0, for a key beside the pictures.
func MarkOutline(kind string) string { return markOutline(kind, 0, 0) }
