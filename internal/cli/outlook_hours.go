package cli

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gritward/internal/sun"
)

// dayHours are the hours of a day that a season's picture shows, counted from midnight; to may be past the next.
type dayHours struct{ from, to float64 }

// Shown at least: from before a winter's dawn to after its dusk, at the latitudes where clubs ride.
const firstHour, lastHour = 6, 19

func hoursOf(s *outlook) dayHours {
	h := dayHours{firstHour, lastHour}
	for _, day := range s.days {
		for _, o := range day.outings {
			h.from = min(h.from, math.Floor(hourOf(o.Start, day.date)))
			h.to = max(h.to, math.Ceil(hourOf(o.Home, day.date)))
		}
	}
	return h
}

// hourOf is where an instant stands across a date: hours from noon, and twelve. It is the time that a clock shows but for
// the hours beyond a change of the clocks, which is by night: so the hours stay as long as they are.
func hourOf(at, date time.Time) float64 { return 12 + at.Sub(noonOf(date, at.Location())).Hours() }

func noonOf(date time.Time, zone *time.Location) time.Time {
	return time.Date(date.Year(), date.Month(), date.Day(), 12, 0, 0, 0, zone)
}

func (h dayHours) x(hour float64) float64 {
	return seasonLeft + (hour-h.from)/(h.to-h.from)*(seasonRight-seasonLeft)
}

func (h dayHours) box(from, to, date time.Time, y, deep float64, fill string) seasonBox {
	a, b := h.x(hourOf(from, date)), h.x(hourOf(to, date))
	return seasonBox{tenth(a), tenth(y), tenth(b - a), tenth(deep), fill}
}

// ticks are the hours above the picture, as few as leave room for their words.
func (h dayHours) ticks(y float64) []seasonWords {
	step := 1.0
	for (h.to-h.from)/step > 18 {
		step *= 2
	}
	var ticks []seasonWords
	for hour := h.from; hour <= h.to; hour += step {
		ticks = append(ticks, seasonWords{tenth(h.x(hour)), y, fmt.Sprintf("%02d", ((int(hour)%24)+24)%24)})
	}
	return ticks
}

// sky is the sky over a date where the route ends.
func (h dayHours) sky(s *outlook, date time.Time, y, deep float64) []seasonBox {
	noon := noonOf(date, s.zone)
	at := func(hour float64) time.Time { return noon.Add(time.Duration((hour - 12) * float64(time.Hour))) }
	lat, lon := s.line.At(s.line.DistanceM)
	place := sun.Place{LatDeg: lat, LonDeg: lon}
	marks := []time.Time{at(h.from), at(h.to)}
	for _, limit := range []float64{sun.RiseSetDeg, sun.CivilDeg} {
		for _, crossing := range sun.Crossings(at(h.from), at(h.to), place, limit) {
			marks = append(marks, crossing.At)
		}
	}
	slices.SortFunc(marks, time.Time.Compare)
	var boxes []seasonBox
	for i := 1; i < len(marks); i++ {
		from, to := marks[i-1], marks[i]
		fill := "day"
		switch altitude := sun.AltitudeDeg(from.Add(to.Sub(from)/2), place); {
		case altitude < sun.CivilDeg:
			fill = "night"
		case altitude < sun.RiseSetDeg:
			fill = "twilight"
		}
		boxes = append(boxes, h.box(from, to, date, y, deep, fill))
	}
	return boxes
}
