package pace

import (
	"math"
	"time"

	"gritward/internal/route"
)

// writer writes the instants. Riding and standing are added up apart, so that
// a stop adds its minutes to the nanosecond.
type writer struct {
	route    *route.Route
	start    time.Time
	stops    []Stop // in order, those still to come
	ridingS  float64
	standing time.Duration
	out      []Instant
}

// now is the moment the writer has come to.
func (w *writer) now() time.Time { return w.after(w.ridingS) }

// after is the moment after so many seconds of riding, and the stops so far.
func (w *writer) after(ridingS float64) time.Time {
	return w.start.Add(w.standing + time.Duration(math.Round(ridingS*1e9)))
}

// atOnceM: a change of the weather this near the end of a stretch counts from
// there, and a stop this near behind a place is made there, so that no two
// instants fall together.
const atOnceM = 0.001

// ride writes one stretch, with the stops on it. Speed is found anew after a stop
// and at the moment the weather changes, so that who starts later is never home
// earlier.
func (w *writer) ride(by *rider, s stretch, toM float64) {
	for at := s.fromM; at < toM; {
		speed := by.speedMS(s, w.now())
		end := toM
		if len(w.stops) > 0 {
			end = min(end, w.stops[0].AtM)
		}
		if reach := at + speed*by.changesIn(w.now()).Seconds(); reach < end-atOnceM {
			end = reach
		}
		w.ridingS += (end - at) / speed
		lat, lon := s.toLat, s.toLon
		if end < toM {
			lat, lon = w.route.At(end)
		}
		w.out = append(w.out, Instant{At: w.now(), DistM: end, LatDeg: lat, LonDeg: lon})
		w.halt(end)
		at = end
	}
}

// halt stands at the last instant for as long as the stops there say.
func (w *writer) halt(atM float64) {
	for len(w.stops) > 0 && w.stops[0].AtM <= atM+atOnceM {
		stop := w.stops[0]
		w.stops = w.stops[1:]
		here := w.out[len(w.out)-1]
		if here.Stop != "" {
			w.out = append(w.out, here)
		}
		w.out[len(w.out)-1].Stop = stop.Name
		w.standing += stop.For
		here.At = here.At.Add(stop.For)
		here.Stop = stop.Name
		w.out = append(w.out, here)
	}
}
