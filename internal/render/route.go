package render

import (
	"bytes"
	"html/template"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// RoutePicture is a route as a page shows it: two pictures in SVG without style of their own, and the same in words.
type RoutePicture struct {
	// Map is drawn to the scale of the Web Mercator projection, north up. Profile is empty where the file gave no elevations.
	Map, Profile template.HTML
	// Words tell the route in a sentence, Places what is on the way.
	Words  string
	Places []RoutePlace
	// Credit names whose tiles lie under the map; empty: none do.
	Credit string
}

// DrawRoute draws the line of a ride, as GetRoute answers it, with the ride's stops, hazards and ways out. Groups tell when
// they come to the stops, in the zone of the watch. Ids begin with id, which a page has once. Nil where there is no line.
func DrawRoute(line *pb.RouteLine, ride *pb.Ride, groups []*pb.GroupPlan, w phrase.Watch, id string, under Tiles) (*RoutePicture, error) {
	way := stations(line)
	if len(way) < 2 || !(way[len(way)-1].at > 0) {
		return nil, nil
	}
	ride = cleaned(ride)
	places := routePlaces(line, ride, groups, w)
	made := &RoutePicture{Words: routeWords(ride.GetRoute(), places), Places: places}
	drawn, flat := drawMap(way, line, ride, places, id+"-map")
	if under.Address != "" {
		drawn.Tiles, made.Credit = under.cover(flat), under.Credit
	}
	var err error
	if made.Map, err = inSVG("routemap.svg.tmpl", drawn); err != nil {
		return nil, err
	}
	if len(line.GetSmoothElevM()) == len(line.GetLatDeg()) {
		made.Profile, err = inSVG("routeprofile.svg.tmpl", drawProfile(way, line, places, id+"-profile"))
	}
	return made, err
}

// inSVG writes a drawing by its template.
func inSVG(name string, drawn any) (template.HTML, error) {
	var b bytes.Buffer
	err := templates().ExecuteTemplate(&b, name, drawn)
	return template.HTML(b.String()), err
}
