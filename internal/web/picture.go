package web

import (
	"html/template"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// pictures are one picture drawn for a telephone and for a desk.
type pictures struct{ Narrow, Wide template.HTML }

// lightOf draws the light of a plan's groups, in the club's time.
func (v *visit) lightOf(plan *pb.RidePlan) (pictures, error) {
	zone, light := v.who.GetClub().GetZone(), render.LightOfPlan(plan)
	return drawn(&v.drawings, func() (pictures, error) {
		narrow, wide, err := render.PlanPictures(light, zone)
		return pictures{template.HTML(narrow), template.HTML(wide)}, err // a picture escapes the words in it itself
	}, func(p pictures) int { return len(p.Narrow) + len(p.Wide) }, "light", zone, light)
}

// codeOf draws the QR code of an address of these pages, for another device to open; nil where it is too long.
func codeOf(address string) *render.Code { return render.CodeOf(address) }

// sheetOf is an issue in words and pictures, as the member named me sees it; me may be empty.
func (v *visit) sheetOf(roster *pb.Roster, me string) (*render.RosterView, error) {
	sheet := render.ViewRoster(roster, me)
	for _, light := range sheet.Lights {
		picture, err := drawn(&v.drawings, light.Draw, func(p template.HTML) int { return len(p) }, "group", light.ID, light.Watch(), light.Plan)
		if err != nil {
			return nil, err
		}
		sheet.Pictures = append(sheet.Pictures, picture)
	}
	var err error
	sheet.Code, err = drawn(&v.drawings, func() (*render.Code, error) { return codeOf(sheet.PageURL), nil },
		func(code *render.Code) int {
			if code == nil {
				return 0
			}
			return len(code.Path) + len(code.URL)
		}, "code", sheet.PageURL)
	return sheet, err
}

// routeOf draws a ride's route, with when its groups come to its stops. The line of one that was drawn before is not sent again; the
// server is asked all the same, so that it decides who may see it.
func (v *visit) routeOf(ride *pb.Ride, groups []*pb.GroupPlan, tiles bool) (*render.RoutePicture, error) {
	under := render.Tiles{}
	if tiles {
		under = v.under()
	}
	watch := v.watch().On(v.dayOf(ride))
	from := func(digest string) []any {
		all := []any{"route", digest, watch.Zone() + " " + watch.Day(), under.Address, under.Credit,
			&pb.Ride{Route: ride.Route, Stops: ride.Stops, Hazards: ride.Hazards, WaysOut: ride.WaysOut}}
		for _, group := range groups {
			all = append(all, group)
		}
		return all
	}
	request := &pb.GetRouteRequest{Name: ride.Name}
	key, err := drawnFrom(from(ride.GetRoute().GetDigest()))
	if err != nil {
		return nil, err
	}
	before, drawnBefore := v.drawings.find(key)
	if drawnBefore {
		request.KnownDigest = ride.GetRoute().GetDigest()
	}
	line, err := v.rides.GetRoute(v.ctx, request)
	if err != nil {
		return nil, err
	}
	if drawnBefore && len(line.LatDeg) == 0 {
		return before.(*render.RoutePicture), nil
	}
	draw := func() (*render.RoutePicture, error) {
		return render.DrawRoute(line, ride, groups, watch, "route", under)
	}
	if line.Digest == "" {
		return draw()
	}
	return drawn(&v.drawings, draw, routeWeight, from(line.Digest)...)
}

// routeWeight is about how many bytes a drawn route takes.
func routeWeight(p *render.RoutePicture) int {
	if p == nil {
		return 0
	}
	weight := len(p.Map) + len(p.Profile) + len(p.Words)
	for _, place := range p.Places {
		weight += len(place.What) + 100
	}
	return weight
}
