package render

import (
	"strings"
	"time"

	pb "gritward/proto/gritward/v1"
)

// Measures of the picture in its own units. It is 360 wide, the width of a small telephone, so that its type is then as
// large as on the page around it.
const (
	drawWidth  px = 360
	drawMargin px = 6
	typeSize   px = 12.5
	smallSize  px = 11.5
	axisInset  px = 19 // from the edge to the ends of the axis: half an hour's label and a little
	lineHeight px = 15
	stripTop   px = 20
	stripDeep  px = 15
	barDeep    px = 14
	barAir     px = 4 // sky above and below a bar
)

// drawing is a picture laid out: what the template writes.
type drawing struct {
	Title, Desc   string
	Width, Height px
	Small, Size   px
	Empty         string // told instead of a picture
	Ticks         []label
	Strip         []box // the sky, with its words
	Words         []label
	Flags         []flag
	FlagTop       px
	Lanes         []lane
	Legend        []key
}

// box is a rectangle with a kind: "day", "twilight", "night", "ride", "stop", "lit", "dark".
type box struct {
	X, Y, W, H px
	Kind       string
}

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
func newDrawing(p *pb.RidePlan, w watch) *drawing {
	d := &drawing{Title: "Light on the way", Width: drawWidth, Small: smallSize, Size: typeSize}
	pic, ok := newPicture(p, w)
	if !ok {
		d.Empty = "The groups' times are not known, or too far apart to draw."
		d.Desc, d.Height = d.Empty, 2*lineHeight
		return d
	}
	d.Desc = description(pic)
	wide := textWidth("00:00", smallSize)
	for _, at := range pic.ticks(float64((wide + 4) / (drawWidth - 2*axisInset))) {
		d.Ticks = append(d.Ticks, label{pic.x(at) - wide/2, stripTop - 6, w.clockTime(at)})
	}
	d.Strip = pic.skyBoxes(stripTop, stripDeep)
	for i, b := range d.Strip {
		word := skyWord(pic.sky[i].sky)
		if wide := textWidth(word, smallSize); wide+6 < b.W {
			d.Words = append(d.Words, label{b.X + (b.W-wide)/2, stripTop + 11.5, word})
		}
	}
	y := d.flags(pic, stripTop+stripDeep)
	for _, b := range pic.bars {
		y = d.lane(pic, b, y+8)
	}
	d.Height = d.legend(pic, y+10)
	return d
}

// x is where an instant lies across the picture.
func (pic *picture) x(at time.Time) px {
	part := float64(at.Sub(pic.from)) / float64(pic.to.Sub(pic.from))
	return axisInset + px(part)*(drawWidth-2*axisInset)
}

func (pic *picture) box(p period, y, h px, kind string) box {
	return box{pic.x(p.from), y, pic.x(p.to) - pic.x(p.from), h, kind}
}

func (pic *picture) skyBoxes(y, h px) []box {
	var out []box
	for _, s := range pic.sky {
		out = append(out, pic.box(s.period, y, h, firstOf(skyWord(s.sky), "day")))
	}
	return out
}

// flags lays out the events under the strip and gives where they end.
func (d *drawing) flags(pic *picture, y px) px {
	for _, e := range pic.events {
		d.Flags = append(d.Flags, flag{X: pic.x(e.at), Label: label{Text: e.name + " " + pic.watch.clockTime(e.at)}})
	}
	lanes := placeFlags(d.Flags, drawMargin, drawWidth-drawMargin, smallSize)
	for i := range d.Flags {
		d.Flags[i].Label.Y = y + px(d.Flags[i].Lane+1)*lineHeight - 2
	}
	d.FlagTop = stripTop
	return y + px(lanes)*lineHeight
}

// lane lays out a group and gives where it ends.
func (d *drawing) lane(pic *picture, b bar, y px) px {
	const room = drawWidth - 2*axisInset
	info := pic.watch.clock(b.plan.GetStartAt()) + "–" + pic.watch.clock(b.plan.GetHomeAt())
	if against := againstDark(b.plan); against != "" {
		info += ", " + against
	}
	info = fit(info, smallSize, room)
	l := lane{Title: label{axisInset, y + lineHeight - 3, b.title}}
	wide := textWidth(info, smallSize)
	l.Info = label{drawWidth - axisInset - wide, l.Title.Y, info}
	const bold = 1.1 // bold type is wider: common practice, no source
	if textWidth(b.title, typeSize)*bold > room-wide-8 {
		l.Title.Text = fit(b.title, typeSize*bold, room)
		l.Info.Y += lineHeight
	}
	l.Top = l.Info.Y + 5
	l.Bottom = l.Top + barDeep + 2*barAir
	l.Boxes = pic.skyBoxes(l.Top, l.Bottom-l.Top)
	top := l.Top + barAir
	l.Boxes = append(l.Boxes, pic.box(period{b.start, b.home}, top, barDeep, "ride"))
	for _, p := range b.lit {
		l.Boxes = append(l.Boxes, pic.box(p, top, barDeep, "lit"))
	}
	for _, p := range b.dark {
		l.Boxes = append(l.Boxes, pic.box(p, top, barDeep, "dark"))
	}
	for _, s := range b.stops {
		l.Boxes = append(l.Boxes, pic.box(s.period, top+3, barDeep-6, "stop"))
	}
	for _, f := range d.Flags {
		l.Ticks = append(l.Ticks, f.X)
	}
	end := l.Bottom
	if l.Stops = pic.stopLabels(b, l.Bottom+lineHeight-3); len(l.Stops) > 0 {
		end += lineHeight
	}
	d.Lanes = append(d.Lanes, l)
	return end
}

// stopLabels name a group's stops below its bar, as far as there is room: with the title, else with the time alone, else
// not. The description names them all.
func (pic *picture) stopLabels(b bar, y px) []label {
	var out []label
	free := drawMargin
	for _, s := range b.stops {
		at := pic.watch.clockTime(s.from)
		for _, text := range []string{at + " " + fit(s.title, smallSize, 130), at} {
			wide, middle := textWidth(text, smallSize), (pic.x(s.from)+pic.x(s.to))/2
			x := max(drawMargin, min(middle-wide/2, drawWidth-drawMargin-wide))
			if x >= free {
				out = append(out, label{x, y, text})
				free = x + wide + 8
				break
			}
		}
	}
	return out
}

// legend lays out the key to the patterns that are drawn and gives where it ends.
func (d *drawing) legend(pic *picture, y px) px {
	drawn := map[string]bool{}
	for _, l := range d.Lanes {
		for _, b := range l.Boxes {
			drawn[b.Kind] = true
		}
	}
	x := axisInset
	for _, k := range []struct{ kind, word string }{
		{"ride", "riding"}, {"stop", "stop"}, {"lit", "lights needed"}, {"dark", "in the dark"},
	} {
		if !drawn[k.kind] {
			continue
		}
		wide := 16 + 4 + textWidth(k.word, smallSize) + 8
		if x+wide-8 > drawWidth-drawMargin {
			x, y = axisInset, y+lineHeight
		}
		d.Legend = append(d.Legend, key{box{x, y + 2, 16, 10, k.kind}, label{x + 20, y + 11, k.word}})
		x += wide
	}
	for _, title := range pic.missing {
		y += lineHeight
		text := fit("Times not known: "+title, smallSize, drawWidth-2*axisInset)
		d.Legend = append(d.Legend, key{Label: label{axisInset, y + 11, text}})
	}
	return y + lineHeight + 4
}

// description tells the picture in words.
func description(pic *picture) string {
	var out []string
	for _, e := range pic.events {
		out = append(out, upper(e.name)+" "+pic.watch.clockTime(e.at)+".")
	}
	for _, b := range pic.bars {
		words := b.title + ": " + pic.watch.clock(b.plan.GetStartAt()) + " to " + pic.watch.clock(b.plan.GetHomeAt())
		if against := againstDark(b.plan); against != "" {
			words += ", home " + against
		}
		words += "; " + lightWords(b.plan)
		for _, s := range b.stops {
			words += "; stop " + pic.watch.clockTime(s.from) + " to " + pic.watch.clockTime(s.to) + " " + s.title
		}
		out = append(out, strings.TrimSpace(words)+".")
	}
	for _, title := range pic.missing {
		out = append(out, title+": times not known.")
	}
	return strings.Join(out, " ")
}
