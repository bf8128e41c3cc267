package render

import (
	"strings"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"github.com/charmbracelet/x/ansi"
)

// light draws the picture of the light in characters: hours across, the sky, and a bar for each group.
func (t *page) light(p *pb.RidePlan, w phrase.Watch) {
	t.heading("Light")
	pic, ok := newPicture(p, w)
	if !ok {
		t.line("The groups' times are not known, or too far apart to draw.")
		return
	}
	label := 4
	for _, b := range pic.bars {
		label = max(label, ansi.StringWidth(b.title))
	}
	label = min(label, 18)
	cell := cellOf(pic, t.width-label-1)
	n := int(pic.to.Sub(pic.from) / cell)
	t.row(label, "", t.paint(hourLine(pic, cell, n), dim), plain)
	t.row(label, "sky", strings.TrimRight(drawn(n, func(i int) byte { return skyMark(pic, mid(pic, cell, i)) }), " "), dim)
	for _, b := range pic.bars {
		st := plain
		if len(b.dark) > 0 {
			st = strong
		}
		t.row(label, b.title, strings.TrimRight(drawn(n, func(i int) byte { return barMark(b, mid(pic, cell, i), cell) }), " "), st)
	}
	t.faint(strings.ReplaceAll("sky: ._twilight  :_night; =_riding  +_lights needed  #_in the dark  o_stop", "_", noBreak))
	var named []string
	for _, e := range pic.events {
		named = append(named, e.name+" "+w.Time(e.at))
	}
	if len(named) > 0 {
		t.line(upper(strings.Join(named, "; ") + "."))
	}
	for _, title := range pic.missing {
		t.line("Times not known: " + title)
	}
}

func (t *page) row(label int, title, marks string, st style) {
	t.b.WriteString(strings.TrimRight(pad(cut(title, label), label)+" "+t.paint(marks, st), " ") + "\n")
}

// cellOf is the time that one character stands for: the shortest of a few that fits.
func cellOf(pic *picture, width int) time.Duration {
	whole := pic.to.Sub(pic.from)
	for _, min := range []time.Duration{5, 10, 15, 20, 30, 60} {
		if whole/(min*time.Minute) <= time.Duration(width) {
			return min * time.Minute
		}
	}
	return 3 * time.Hour
}

func mid(pic *picture, cell time.Duration, i int) time.Time {
	return pic.from.Add(cell*time.Duration(i) + cell/2)
}

func drawn(n int, mark func(int) byte) string {
	line := make([]byte, n)
	for i := range line {
		line[i] = mark(i)
	}
	return string(line)
}

// hourLine has each whole hour in two digits over its place, as many as fit.
func hourLine(pic *picture, cell time.Duration, n int) string {
	line := []byte(strings.Repeat(" ", n+2))
	for _, at := range pic.ticks(3 / float64(n)) {
		i := int(at.Sub(pic.from) / cell)
		if i < n {
			copy(line[i:], pic.watch.Local(at).Format("15"))
		}
	}
	return strings.TrimRight(string(line[:n]), " ")
}

func skyMark(pic *picture, at time.Time) byte {
	for _, s := range pic.sky {
		if s.holds(at) {
			switch s.sky {
			case pb.LightSpan_TWILIGHT:
				return '.'
			case pb.LightSpan_NIGHT:
				return ':'
			}
		}
	}
	return ' '
}

// barMark is what a group does at an instant. A stop shorter than a character still shows, as the character it begins in.
func barMark(b bar, at time.Time, cell time.Duration) byte {
	if at.Before(b.start) || !at.Before(b.home) {
		return ' '
	}
	around := period{at.Add(-cell / 2), at.Add(cell / 2)}
	for _, s := range b.stops {
		if s.holds(at) || around.holds(s.from) {
			return 'o'
		}
	}
	if among(b.dark, at) {
		return '#'
	}
	if among(b.lit, at) {
		return '+'
	}
	return '='
}

func among(ps []period, at time.Time) bool {
	for _, p := range ps {
		if p.holds(at) {
			return true
		}
	}
	return false
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
