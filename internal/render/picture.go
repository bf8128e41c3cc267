package render

import (
	"slices"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

const (
	// maxPicture is the longest time drawn; a ride of several days has no use for a picture of one day's light.
	maxPicture = 96 * time.Hour
	// showDarkWithin is how long after the last group's home the evening's events are still shown, so that the margin can
	// be seen; showDawnWithin the same before the first start.
	showDarkWithin = 3 * time.Hour
	showDawnWithin = time.Hour
)

// picture is what the picture of the light shows, in time; text and SVG draw it.
type picture struct {
	plan     *pb.RidePlan
	width    px        // of the drawing
	from, to time.Time // whole hours of the club's clock
	watch    phrase.Watch
	sky      []skyBand // from end to end; empty where not known
	events   []event   // in order of time, within from and to
	bars     []bar
	missing  []string // titles of groups whose times are not known
}

// bar is a group from start to home.
type bar struct {
	title string
	plan  *pb.GroupPlan
	start time.Time
	home  time.Time
	stops []halt
	lit   []period
	dark  []period
}

type period struct{ from, to time.Time }

func (p period) holds(at time.Time) bool { return !at.Before(p.from) && at.Before(p.to) }

// halt is a stop.
type halt struct {
	period
	title string
}

// event is an instant with a name.
type event struct {
	at   time.Time
	name string
}

// newPicture is the picture of a plan; ok is false where no group has times, or they are too far apart to draw.
func newPicture(p *pb.RidePlan, w phrase.Watch) (pic *picture, ok bool) {
	pic = &picture{watch: w, plan: p}
	for _, g := range p.GetGroups() {
		b, ok := newBar(g)
		if !ok {
			pic.missing = append(pic.missing, planTitle(g))
			continue
		}
		pic.bars = append(pic.bars, b)
		if pic.from.IsZero() || b.start.Before(pic.from) {
			pic.from = b.start
		}
		if b.home.After(pic.to) {
			pic.to = b.home
		}
	}
	if len(pic.bars) == 0 || pic.to.Sub(pic.from) > maxPicture {
		return pic, false
	}
	lastHome, firstStart := pic.to, pic.from
	all := events(p)
	for _, e := range all {
		if e.at.After(lastHome) && e.at.Sub(lastHome) <= showDarkWithin && e.at.After(pic.to) {
			pic.to = e.at
		}
		if e.at.Before(firstStart) && firstStart.Sub(e.at) <= showDawnWithin && e.at.Before(pic.from) {
			pic.from = e.at
		}
	}
	pic.from, pic.to = hourBefore(w, pic.from), hourAfter(w, pic.to)
	pic.events = slices.DeleteFunc(all, func(e event) bool { return e.at.Before(pic.from) || e.at.After(pic.to) })
	pic.sky = skyBands(p, pic.from, pic.to)
	return pic, true
}

// hourBefore and hourAfter are the whole hours of the club's clock around at. Zones may lie half an hour off UTC.
func hourBefore(w phrase.Watch, at time.Time) time.Time {
	local := w.Local(at)
	past := time.Duration(local.Minute())*time.Minute + time.Duration(local.Second())*time.Second + time.Duration(local.Nanosecond())
	return local.Add(-past)
}

func hourAfter(w phrase.Watch, at time.Time) time.Time {
	before := hourBefore(w, at)
	if before.Equal(at) {
		return before
	}
	return before.Add(time.Hour)
}

func newBar(g *pb.GroupPlan) (bar, bool) {
	if !g.GetStartAt().IsValid() || !g.GetHomeAt().IsValid() {
		return bar{}, false
	}
	b := bar{title: planTitle(g), plan: g, start: g.GetStartAt().AsTime(), home: g.GetHomeAt().AsTime()}
	if !b.home.After(b.start) {
		return bar{}, false
	}
	for _, p := range g.GetPoints() {
		if in, ok := b.within(p.GetAt(), p.GetLeavesAt()); ok {
			b.stops = append(b.stops, halt{in, p.GetWhat()})
		}
	}
	for _, l := range g.GetLight() {
		in, ok := b.within(l.GetFromAt(), l.GetToAt())
		if ok && l.GetLit() {
			b.lit = append(b.lit, in)
		}
		if ok && l.GetDark() {
			b.dark = append(b.dark, in)
		}
	}
	return b, true
}

// within is the part of a period that lies between start and home, if any.
func (b *bar) within(from, to *timestamppb.Timestamp) (period, bool) {
	if !from.IsValid() || !to.IsValid() {
		return period{}, false
	}
	p := period{from.AsTime(), to.AsTime()}
	if p.from.Before(b.start) {
		p.from = b.start
	}
	if p.to.After(b.home) {
		p.to = b.home
	}
	return p, p.to.After(p.from)
}

// ticks are the whole hours to label, as many as fit when two labels need gap of the width of the whole.
func (pic *picture) ticks(gap float64) []time.Time {
	hours := pic.to.Sub(pic.from).Hours()
	step := 24
	for _, s := range []int{1, 2, 3, 6, 12} {
		if float64(s)/hours >= gap {
			step = s
			break
		}
	}
	var out []time.Time
	for at := pic.from; !at.After(pic.to); at = at.Add(time.Hour) {
		if pic.watch.Local(at).Hour()%step == 0 {
			out = append(out, at)
		}
	}
	return out
}
