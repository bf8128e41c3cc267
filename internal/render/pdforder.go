package render

import (
	"strconv"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// order draws the riding order as the road sees it, front on top, left and right as seen from behind, with two boxes to tick
// for each rider.
func (p *paper) order(t *setter, g *pb.RosterGroup) block {
	rows := g.GetRows()
	two := false
	for _, row := range rows {
		two = two || row.GetRight() != nil
	}
	title := "Riding order: front on top, as seen from behind"
	if !two {
		title = "Riding order: single file, front on top"
	}
	b := t.heading(title)
	if len(seated(g)) == 0 {
		return append(b, t.text("", 1, 0, "No rider is placed in this group.")...)
	}
	backFrom, words := backRow(g)
	for i, row := range rows {
		if i == backFrom {
			line := t.text("B", 0.9, t.numbers(), phrase.StandingShape(pb.Standing_BACK)+" "+words)
			for n := range line {
				line[n].stays = true
			}
			b = append(b, line...)
		}
		b = append(b, p.row(t, i+1, row, two))
	}
	return b
}

// numbers is the width left for the number of a row, mm.
func (t *setter) numbers() float64 { return t.size * point * 1.4 }

// row is one row of riders: one piece, since it is ticked as one.
func (p *paper) row(t *setter, n int, row *pb.Row, two bool) piece {
	width := t.width - t.numbers()
	if two {
		width /= 2
	}
	seats := []*pb.Rider{row.GetLeft(), row.GetRight()}
	var cells []block
	high := 0.0
	for _, r := range seats {
		cell := p.seat(t, r, width)
		cells, high = append(cells, cell), max(high, cell.height())
	}
	const pad = 0.8
	return piece{height: high + 2*pad, draw: func(x, y float64) {
		t.face("", 0.9)
		t.pdf.Text(x, y+pad+t.size*point*leading*0.8, strconv.Itoa(n))
		t.pdf.SetLineWidth(0.15)
		t.pdf.Line(x, y, x+t.width, y)
		for i, cell := range cells {
			left, down := x+t.numbers()+width*float64(i), y+pad
			if r := seats[i]; r != nil && sentBack(r) {
				t.pdf.Rect(left, y+0.6, 1, high+2*pad-1.2, "F")
			}
			for _, line := range cell {
				line.draw(left+seatPad, down)
				down += line.height
			}
		}
	}}
}

const seatPad = 1.8

// seat is a rider's name, the boxes to tick, and what is to be known.
func (p *paper) seat(t *setter, r *pb.Rider, width float64) block {
	if r == nil {
		return nil
	}
	cell := *t
	cell.width = width - seatPad - 0.8
	b := cell.text("B", 1.05, 0, p.name(p.rider(r), r.GetMember()))
	b = append(b, cell.boxes("signed on", "home"))
	if words := joined(roles(r), standingMark(r), paceOff(r), wished(r)); words != "" {
		b = append(b, cell.text("", 0.9, 0, words)...)
	}
	return b
}

// standingMark is a standing in shape and word with what it comes from; empty where nothing stands against the rider.
func standingMark(r *pb.Rider) string {
	if r.GetStanding() == pb.Standing_CLEAR && len(unmet(r.GetFindings())) == 0 {
		return ""
	}
	words := standingReasons(r.GetStanding(), r.GetFindings())
	if sentBack(r) {
		words = "sent to the " + words
	}
	return phrase.StandingShape(r.GetStanding()) + " " + words
}

// boxes are boxes to tick, each with its word, in type that they fit in.
func (t *setter) boxes(words ...string) piece {
	const scale = 0.9
	high, side, gap := t.size*point*leading*1.15, t.size*point*0.95, t.size*point*0.4
	t.face("", scale)
	wide := gap
	for _, word := range words {
		wide += side + gap + t.pdf.GetStringWidth(word) + gap
	}
	fit := scale * min(1, t.width/wide)
	return piece{height: high, draw: func(x, y float64) {
		t.face("", fit)
		for _, word := range words {
			t.pdf.SetLineWidth(0.3)
			t.pdf.Rect(x, y+high*0.12, side, side, "D")
			t.pdf.Text(x+side+gap, y+high*0.8, word)
			x += side + gap + t.pdf.GetStringWidth(word) + 2*gap
		}
	}}
}
