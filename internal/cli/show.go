package cli

import (
	"io"

	"google.golang.org/protobuf/proto"

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

// assessments writes standings with their findings. The rules that are met or do not apply are
// written with all only.
func (p *page) assessments(list []*pb.Assessment, titles render.Titles, all bool) {
	shown := make([]*pb.Assessment, len(list))
	for i, one := range list {
		if shown[i] = one; !all {
			shown[i] = proto.CloneOf(one)
			shown[i].NotApplied = nil
		}
	}
	p.rendered(func(w io.Writer, options render.TextOptions) error {
		options.Brief = !all
		return render.AssessmentText(w, shown, titles, options)
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

func (p *page) explanation(explanation *pb.Explanation) {
	p.rendered(func(w io.Writer, options render.TextOptions) error {
		return render.ExplanationText(w, explanation, options)
	})
}
