package web

import (
	"bytes"

	"gritward/internal/names"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// rideGPX is the route with the times of a group, or of all.
func (v *visit) rideGPX() error {
	request := &pb.ExportRouteRequest{Name: v.ride()}
	if group := v.r.URL.Query().Get("group"); group != "" {
		request.Groups = []string{group}
	}
	made, err := v.rides.ExportRoute(v.ctx, request)
	if err != nil {
		return err
	}
	v.keepFile("application/gpx+xml", names.Last(v.ride())+".gpx", made.Gpx)
	return nil
}

// sheets are the newest roster to print, a page for each group.
func (v *visit) sheets() error {
	roster, err := v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: v.ride() + "/rosters/-"})
	if err != nil {
		return err
	}
	var drawn bytes.Buffer
	if _, err := render.PDF(&drawn, roster); err != nil {
		return err
	}
	v.keepFile("application/pdf", names.Last(v.ride())+".pdf", drawn.Bytes())
	return nil
}
