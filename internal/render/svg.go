package render

import (
	"bytes"
	"io"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// SVG writes the picture of the light of a roster's groups: hours across, the sky at the route's start, and a bar for
// each group from start to home with its stops and the minutes with lights and in the dark. It is complete in itself, with
// the ride and its day at the head, told in words in its title and desc, and can be read without colour. The error is the
// writer's.
func SVG(w io.Writer, r *pb.Roster) error {
	s := newSheet(r)
	head := phrase.FirstOf(s.watch.Date(s.start()), "At a time not known")
	if s.GetRide() != nil {
		head = s.title() + ", " + head
	}
	lines := []string{head}
	if off := s.calledOff(); off != "" {
		lines = []string{off, head}
	}
	return writeDrawing(w, newDrawing(s.plan(), s.watch, frame{"light", wideWidth, lines}))
}

// PlanSVG is SVG for a plan that is no roster yet, with its times told in zone, an IANA name.
func PlanSVG(w io.Writer, plan *pb.RidePlan, zone string) error {
	return SVG(w, &pb.Roster{Plan: plan, Zone: zone})
}

// LightOfPlan is of a plan all that its pictures of the light are drawn from.
func LightOfPlan(plan *pb.RidePlan) *pb.RidePlan { return lightOf(plan, plan.GetGroups()...) }

// PlanPictures are the picture of PlanSVG as it stands within a page that names the ride: one for a telephone, one for a
// desk, with ids that begin with light-narrow and light-wide.
func PlanPictures(plan *pb.RidePlan, zone string) (narrow, wide string, err error) {
	s := newSheet(&pb.Roster{Plan: plan, Zone: zone})
	for _, one := range []struct {
		into *string
		frame
	}{{&narrow, frame{id: "light-narrow", width: narrowWidth}}, {&wide, frame{id: "light-wide", width: wideWidth}}} {
		var b bytes.Buffer
		if err := writeDrawing(&b, newDrawing(s.plan(), s.watch, one.frame)); err != nil {
			return "", "", err
		}
		*one.into = b.String()
	}
	return narrow, wide, nil
}

func writeDrawing(w io.Writer, d *drawing) error {
	var b bytes.Buffer
	if err := templates().ExecuteTemplate(&b, "light.svg.tmpl", d); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
