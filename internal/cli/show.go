package cli

import (
	"io"

	"gritward/internal/names"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// rendered writes what the package render draws; it cleans what it is given itself.
func (p *page) rendered(draw func(w io.Writer, options render.TextOptions) error) {
	// The only error would be the writer's, and a strings.Builder has none.
	_ = draw(&p.b, render.TextOptions{Width: p.columns(), Colour: p.colour})
}

// columns is the width of the page as render takes it.
func (p *page) columns() int {
	if p.width == 0 {
		return 0
	}
	return min(max(p.width, 40), 120)
}

func (p *page) assessments(list []*pb.Assessment, titles render.Titles) {
	p.rendered(func(w io.Writer, options render.TextOptions) error {
		return render.AssessmentText(w, list, titles, options)
	})
}

func (p *page) plan(plan *pb.RidePlan, zone string) {
	p.rendered(func(w io.Writer, options render.TextOptions) error {
		return render.PlanText(w, plan, zone, options)
	})
}

func (p *page) roster(roster *pb.Roster, part render.Part) {
	p.rendered(func(w io.Writer, options render.TextOptions) error {
		options.Part = part
		return render.Text(w, roster, options)
	})
}

// asRoster is a placement in the form of a roster that was not published, so that both look alike.
func asRoster(ride *pb.Ride, placement *pb.Placement, club *pb.Club) *pb.Roster {
	return &pb.Roster{Ride: ride, Placement: placement, ClubTitle: club.GetTitle(), Zone: club.GetZone(),
		LeaderName: names.Last(ride.GetLeader()), PolicyDigest: placement.GetPolicyDigest()}
}
