package render

import (
	"strings"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// Measures of the picture in its own units. It is as wide as a small telephone, or as a page on a desk or on paper, so that
// its type is then as large as what stands around it.
const (
	narrowWidth px = 360
	wideWidth   px = 720
	drawMargin  px = 6
	typeSize    px = 12.5
	smallSize   px = 11.5
	axisInset   px = 19 // from the edge to the ends of the axis: half an hour's label and a little
	lineHeight  px = 15
	stripTop    px = 20
	stripDeep   px = 15
	barDeep     px = 14
	barAir      px = 4   // sky above and below a bar
	bold        px = 1.1 // bold type is wider: common practice, no source
)

// drawing is a picture laid out: what the template writes.
type drawing struct {
	ID            string // begins every id in the picture, which a page can hold twice
	Patterns      string // begins the ids of its patterns: its own, or those of a picture before it in the page
	Bare          bool   // a style sheet colours it
	Title, Desc   string
	Width, Height px
	Small, Size   px
	Head          []label
	Empty         string // told instead of a picture
	EmptyY        px
	Ticks         []label
	Strip         []box // the sky, with its words
	Words         []label
	Flags         []flag
	FlagTop       px
	Lanes         []lane
	Legend        []key
}

// frame is what a picture is drawn into.
type frame struct {
	id    string
	width px
	head  []string // lines above the picture; without, what stands around it names the ride
}

// box is a rectangle with a kind: "day", "twilight", "night", "ride", "stop", "lit", "dark".
type box struct {
	X, Y, W, H px
	Kind       string
}

// drawnBox is a box with the id of the picture, whose patterns fill it.
type drawnBox struct {
	box
	Patterns string
	Bare     bool
}

// Of is for the template.
func (d *drawing) Of(b box) drawnBox { return drawnBox{b, d.Patterns, d.Bare} }

// lane is one group.
type lane struct {
	Title, Info label
	Boxes       []box
	Ticks       []px // of the events, within the lane
	Top, Bottom px
	Stops       []label
}

// key is an entry of the legend.
type key struct {
	Box   box
	Label label
}

// newDrawing lays out the picture of a plan.
func newDrawing(p *pb.RidePlan, w phrase.Watch, in frame) *drawing {
	d := &drawing{ID: in.id, Patterns: in.id, Title: strings.Join(append([]string{"Light on the way"}, in.head...), ": "), Width: in.width, Small: smallSize, Size: typeSize}
	top := px(0)
	for _, words := range in.head {
		top += lineHeight + 1
		d.Head = append(d.Head, label{axisInset, top, fit(words, typeSize*bold, in.width-2*axisInset), ""})
	}
	pic, ok := newPicture(p, w)
	if !ok {
		d.Empty, d.EmptyY = "The groups' times are not known, or too far apart to draw.", top+18
		d.Desc, d.Height = d.Empty, top+2*lineHeight
		return d
	}
	pic.width = in.width
	d.Desc = description(pic)
	tick := textWidth("00:00", smallSize)
	strip := top + stripTop
	for _, at := range pic.ticks(float64((tick + 4) / pic.room())) {
		d.Ticks = append(d.Ticks, label{pic.x(at), strip - 6, w.Time(at), "middle"})
	}
	d.Strip = pic.skyBoxes(strip, stripDeep)
	for i, b := range d.Strip {
		word := skyWord(pic.sky[i].sky)
		if textWidth(word, smallSize)+6 < b.W {
			d.Words = append(d.Words, label{b.X + b.W/2, strip + 11.5, word, "middle"})
		}
	}
	d.FlagTop = strip
	y := d.flags(pic, strip+stripDeep)
	for _, b := range pic.bars {
		y = d.lane(pic, b, y+8)
	}
	d.Height = d.legend(pic, y+10)
	return d
}

// room is the length of the axis.
func (pic *picture) room() px { return pic.width - 2*axisInset }

// x is where an instant lies across the picture.
func (pic *picture) x(at time.Time) px {
	part := float64(at.Sub(pic.from)) / float64(pic.to.Sub(pic.from))
	return axisInset + px(part)*pic.room()
}

func (pic *picture) box(p period, y, h px, kind string) box {
	return box{pic.x(p.from), y, pic.x(p.to) - pic.x(p.from), h, kind}
}

func (pic *picture) skyBoxes(y, h px) []box {
	var out []box
	for _, s := range pic.sky {
		out = append(out, pic.box(s.period, y, h, phrase.FirstOf(skyWord(s.sky), "day")))
	}
	return out
}
