package render

import (
	"fmt"
	"math"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// Measures of the profile.
const (
	profileLeft  px = 34
	profileRight px = 352
	profileDeep  px = 84
	profileLane  px = 19
)

// routeProfile is the gradient profile of a route laid out.
type routeProfile struct {
	ID, Title, Desc    string
	Width, Height      px
	Top, Bottom        px
	Left, Right        px
	Ground             string
	Climbs, Descents   []string
	Heights, Distances []label
	Levels             []px
	Marks              []mark
}

// drawProfile lays out the profile of a route with elevations.
func drawProfile(way []station, line *pb.RouteLine, places []RoutePlace, id string) *routeProfile {
	p := &routeProfile{ID: id, Title: "Gradient profile", Width: mapWidth, Left: profileLeft, Right: profileRight}
	whole := way[len(way)-1].at
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range way {
		low, high = math.Min(low, s.elevM), math.Max(high, s.elevM)
	}
	p.Desc = fmt.Sprintf("From %s m to %s m above the sea.", phrase.Number(low, 0), phrase.Number(high, 0))
	step := 10.0
	for (high-low)/step > 4 {
		step *= map[bool]float64{true: 2.5, false: 2}[math.Mod(math.Log10(step/2), 1) == 0]
	}
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	high = math.Max(high, low+4*step) // a flat road looks flat
	x := func(at float64) px { return profileLeft + px(at/whole)*(profileRight-profileLeft) }
	lanes := p.marks(places, x)
	p.Top = px(lanes)*profileLane + 6
	p.Bottom = p.Top + profileDeep
	y := func(elev float64) px { return p.Bottom - px((elev-low)/(high-low))*profileDeep }
	area := func(from, to float64) string {
		var b strings.Builder
		fmt.Fprintf(&b, "M%s %s", x(from), p.Bottom)
		for _, s := range sampled(way, from, to) {
			fmt.Fprintf(&b, "L%s %s", x(s.at), y(s.elevM))
		}
		fmt.Fprintf(&b, "V%sz", p.Bottom)
		return b.String()
	}
	p.Ground = area(0, whole)
	for _, climb := range line.GetClimbs() {
		p.Climbs = append(p.Climbs, area(climb.GetFromM(), climb.GetToM()))
	}
	for _, descent := range line.GetDescents() {
		p.Descents = append(p.Descents, area(descent.GetFromM(), descent.GetToM()))
	}
	for level := low; level <= high+step/2; level += step {
		p.Levels = append(p.Levels, y(level))
		p.Heights = append(p.Heights, label{profileLeft - 4, y(level) + 4, phrase.Number(level, 0), "end"})
	}
	every := 5_000.0
	for whole/every > 7 {
		every *= 2
	}
	for at := 0.0; at < whole; at += every {
		p.Distances = append(p.Distances, label{x(at), p.Bottom + 14, phrase.Number(at/1000, 0), "middle"})
	}
	p.Distances[len(p.Distances)-1].Text += " km"
	p.Height = p.Bottom + 20
	for i := range p.Marks {
		p.Marks[i].AtY = y(stationAt(way, places[i].at).elevM)
	}
	return p
}

// marks puts the numbers of places above the profile, in as many lanes as they need.
func (p *routeProfile) marks(places []RoutePlace, x func(float64) px) (lanes int) {
	var ends []px
	for _, place := range places {
		at := x(place.at)
		lane := 0
		for lane < len(ends) && ends[lane] > at-markRadius-1 {
			lane++
		}
		if lane == len(ends) {
			ends = append(ends, 0)
		}
		ends[lane] = at + markRadius + 2
		y := px(lane)*profileLane + 11
		p.Marks = append(p.Marks, mark{Kind: place.Kind, Text: fmt.Sprint(place.Number), X: at, Y: y, AtX: at, Outline: markOutline(place.Kind, at, y),
			TextX: at, TextY: y + map[string]px{"hazard": 5}[place.Kind] + 3.3})
	}
	return len(ends)
}

// sampled is a part of a route at stations close enough for the picture.
func sampled(way []station, from, to float64) []station {
	const close = 2 // units
	n := max(2, int((to-from)/way[len(way)-1].at*float64(profileRight-profileLeft)/close)+1)
	out := make([]station, 0, n+1)
	i := 1
	for k := range n + 1 {
		at := from + (to-from)*float64(k)/float64(n)
		for i < len(way)-1 && way[i].at < at {
			i++
		}
		out = append(out, stationAt(way[i-1:i+1], at))
	}
	return out
}
