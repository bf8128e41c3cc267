package render

import (
	"strings"

	"gritward/internal/phrase"
)

// flags lays out the events under the strip and gives where they end.
func (d *drawing) flags(pic *picture, y px) px {
	for _, e := range pic.events {
		d.Flags = append(d.Flags, flag{X: pic.x(e.at), Label: label{Text: e.name + " " + pic.watch.Time(e.at)}})
	}
	lanes := placeFlags(d.Flags, drawMargin, pic.width-drawMargin, smallSize)
	for i := range d.Flags {
		d.Flags[i].Label.Y = y + px(d.Flags[i].Lane+1)*lineHeight - 2
		d.Flags[i].anchor()
	}
	return y + px(lanes)*lineHeight
}

// lane lays out a group and gives where it ends.
func (d *drawing) lane(pic *picture, b bar, y px) px {
	info := fit(b.words(pic), smallSize, pic.room())
	l := lane{Title: label{axisInset, y + lineHeight - 3, b.title, ""}}
	l.Info = label{pic.width - axisInset, l.Title.Y, info, "end"}
	if textWidth(b.title, typeSize)*bold > pic.room()-textWidth(info, smallSize)-8 {
		l.Title.Text = fit(b.title, typeSize*bold, pic.room())
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

// words are a group's times and light in short.
func (b *bar) words(pic *picture) string {
	words, light := pic.watch.Clock(b.plan.GetStartAt())+"–"+pic.watch.Clock(b.plan.GetHomeAt()), ""
	switch {
	case phrase.AllDark(b.plan):
		light = "dark all the way"
	case phrase.FromDark(pic.plan, b.plan):
		light = "lights " + litTimes(b.plan, pic.watch)
	default:
		light = againstDark(b.plan)
	}
	if light != "" {
		words += ", " + light
	}
	if b.plan.GetLitMin() <= 0 {
		return words
	}
	// The description tells it too, for where there is no room.
	if all := words + ", " + phrase.AtLeast(b.plan.GetLitMin()) + " lit"; textWidth(all, smallSize) <= pic.room() {
		return all
	}
	return words
}

// stopLabels name a group's stops below its bar, as far as there is room: with the title, else with the time alone, else
// not. The description names them all.
func (pic *picture) stopLabels(b bar, y px) []label {
	var out []label
	free := drawMargin
	for _, s := range b.stops {
		at := pic.watch.Time(s.from)
		for _, text := range []string{at + " " + fit(s.title, smallSize, 130), at} {
			l := centred((pic.x(s.from)+pic.x(s.to))/2, y, text, drawMargin, pic.width-drawMargin)
			if l.from() >= free {
				out = append(out, l)
				free = l.to() + 8
				break
			}
		}
	}
	return out
}

// legend lays out the key to the patterns that are drawn, in columns of one width, and gives where it ends.
func (d *drawing) legend(pic *picture, y px) px {
	drawn := map[string]bool{}
	for _, l := range d.Lanes {
		for _, b := range l.Boxes {
			drawn[b.Kind] = true
		}
	}
	const gap = 12
	column := 16 + 4 + textWidth("lights needed", smallSize) + gap // the widest word
	x := axisInset
	for _, k := range []struct{ kind, word string }{
		{"ride", "riding"}, {"stop", "stop"}, {"lit", "lights needed"}, {"dark", "in the dark"},
	} {
		if !drawn[k.kind] {
			continue
		}
		if x+column-gap > pic.width-drawMargin {
			x, y = axisInset, y+lineHeight
		}
		d.Legend = append(d.Legend, key{box{x, y + 2, 16, 10, k.kind}, label{x + 20, y + 11, k.word, ""}})
		x += column
	}
	for _, title := range pic.missing {
		y += lineHeight
		text := fit("Times not known: "+title, smallSize, pic.room())
		d.Legend = append(d.Legend, key{Label: label{axisInset, y + 11, text, ""}})
	}
	return y + lineHeight + 4
}

// description tells the picture in words.
func description(pic *picture) string {
	var out []string
	for _, e := range pic.events {
		out = append(out, upper(e.name)+" "+pic.watch.Time(e.at)+".")
	}
	for _, b := range pic.bars {
		words := b.title + ": " + pic.watch.Clock(b.plan.GetStartAt()) + " to " + pic.watch.Clock(b.plan.GetHomeAt())
		if against, lights := lightParts(pic.plan, b.plan, pic.watch); against != "" {
			words += ", " + against + "; " + lights
		} else {
			words += "; " + lights
		}
		for _, s := range b.stops {
			words += "; stop " + pic.watch.Time(s.from) + " to " + pic.watch.Time(s.to) + " " + s.title
		}
		out = append(out, strings.TrimSpace(words)+".")
	}
	for _, title := range pic.missing {
		out = append(out, title+": times not known.")
	}
	return strings.Join(out, " ")
}
