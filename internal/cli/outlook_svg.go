package cli

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"
	"time"

	"charm.land/lipgloss/v2"

	"gritward/internal/daylight"
)

//go:embed outlook.svg.tmpl
var outlookTemplate string

// Measures of the picture, in its own units; letters are 10 high.
const (
	seasonWide  = 1000.0
	seasonLeft  = 190.0 // where the hours begin: dates and groups stand before
	seasonRight = 740.0 // where they end: words stand after
	barPitch    = 12.0
	barDeep     = 9.0
	dateGap     = 6.0
	lineDeep    = 15.0
	idColumns   = 16 // most columns of a group's id
)

// seasonPicture is a season as it is drawn: dates down, the hours of the day across.
type seasonPicture struct {
	Width, Height, Left, Right, Top, Bottom float64
	Title, Desc                             string
	Head                                    []seasonWords
	Legend                                  []seasonKey
	Hours                                   []seasonWords
	Days                                    []seasonDay
	Foot                                    []seasonWords
}

type seasonWords struct {
	X, Y float64
	Text string
}

type seasonKey struct {
	Box   seasonBox
	Label seasonWords
}

// seasonBox is a rectangle; Fill is the id of a pattern.
type seasonBox struct {
	X, Y, Wide, Deep float64
	Fill             string
}

type seasonDay struct {
	Date seasonWords
	Sky  []seasonBox
	Bars []seasonBar
}

type seasonBar struct {
	Group, Words seasonWords
	Ride         seasonBox
	Light        []seasonBox
}

// drawOutlook writes the season as an SVG picture that stands alone: legible in print and without colour, with a title
// and a description.
func drawOutlook(w io.Writer, s *outlook) error {
	drawing, err := template.New("season").Parse(outlookTemplate)
	if err != nil {
		return err
	}
	return drawing.Execute(w, pictureOf(s))
}

func pictureOf(s *outlook) seasonPicture {
	hours := hoursOf(s)
	pic := seasonPicture{Width: seasonWide, Left: seasonLeft, Right: seasonRight, Title: drawn(outlookSubject(s))}
	y := 20.0
	say := func(list *[]seasonWords, text string) {
		for _, line := range wrap(drawn(text), 150) {
			*list = append(*list, seasonWords{10, y, line})
			y += lineDeep
		}
	}
	say(&pic.Head, outlookSubject(s))
	say(&pic.Head, outlookRule(s))
	desc := []string{outlookRule(s)}
	for g, group := range s.groups {
		desc = append(desc, s.summary(g))
		say(&pic.Head, fmt.Sprintf("%s (%s km/h) %s", group.id, number(group.paceKmh), strings.TrimPrefix(s.summary(g), group.id+" ")))
	}
	pic.Desc = drawn(strings.Join(append(desc, outlookAssumed), " "))
	pic.Legend = legendAt(y)
	y += 2*lineDeep + 6
	pic.Hours, pic.Top = hours.ticks(y), y+4
	y += 4
	for _, day := range s.days {
		drawnDay, deep := hours.day(s, day, y)
		pic.Days = append(pic.Days, drawnDay)
		y += deep
	}
	pic.Bottom = y
	y += lineDeep + 5
	say(&pic.Foot, outlookAssumed+" "+strings.ReplaceAll(outlookCaution, "\n", " "))
	pic.Height = y
	return pic
}

func legendAt(y float64) []seasonKey {
	var keys []seasonKey
	for i, key := range [][2]string{{"day", "day"}, {"twilight", "civil twilight"}, {"night", "night"}, {"ride", "riding"},
		{"lit", "riding, lights needed"}, {"dark", "riding in the dark"}} {
		x := 10 + 160*float64(i)
		keys = append(keys, seasonKey{seasonBox{x, y, 24, barDeep, key[0]}, seasonWords{x + 30, y + barDeep, key[1]}})
	}
	return keys
}

// day draws a date from y down, and tells how deep it is.
func (h dayHours) day(s *outlook, day outlookDay, y float64) (seasonDay, float64) {
	deep := max(1, float64(len(day.outings)))*barPitch + dateGap
	d := seasonDay{
		Date: seasonWords{10, y + barPitch, day.date.Format("Mon 2 Jan 2006")},
		Sky:  h.sky(s, day.date, y, deep),
	}
	if day.problem != "" {
		words := seasonWords{seasonRight + 8, y + barPitch, "not reckoned: the clocks change"}
		d.Bars = []seasonBar{{Words: words}}
	}
	for g, o := range day.outings {
		d.Bars = append(d.Bars, h.bar(s.groups[g].id, o, day.date, y+dateGap/2+float64(g)*barPitch))
	}
	return d, deep
}

func (h dayHours) bar(id string, o daylight.Outing, date time.Time, y float64) seasonBar {
	words := "home " + clockOn(o.Home, date) + ", margin " + marginWords(o)
	if o.LitFor > 0 {
		words += ", lights " + litWords(o)
	}
	b := seasonBar{
		Group: seasonWords{seasonLeft - 90, y + barDeep, fitting(drawn(id), idColumns)},
		Words: seasonWords{seasonRight + 8, y + barDeep, words},
		Ride:  h.box(o.Start, o.Home, date, y, barDeep, "ride"),
	}
	for _, span := range o.Spans {
		switch {
		case span.Dark:
			b.Light = append(b.Light, h.box(span.From, span.To, date, y, barDeep, "dark"))
		case span.Lit:
			b.Light = append(b.Light, h.box(span.From, span.To, date, y, barDeep, "lit"))
		}
	}
	return b
}

// fitting cuts clean text to a number of columns.
func fitting(text string, columns int) string {
	if lipgloss.Width(text) <= columns {
		return text
	}
	runes := []rune(text)
	for lipgloss.Width(string(runes)) > columns-1 {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// drawn makes text safe for a picture: clean, and without the two characters that XML has not.
func drawn(text string) string {
	return strings.Map(func(r rune) rune {
		if r == 0xFFFE || r == 0xFFFF {
			return '\uFFFD'
		}
		return r
	}, clean(text))
}

// tenth keeps a picture's numbers short.
func tenth(v float64) float64 { return math.Round(v*10) / 10 }
