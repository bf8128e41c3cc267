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

// ride writes one stretch, with the stops on it.
func (w *writer) ride(s stretch, toM, speedMS float64) {
	for len(w.stops) > 0 && w.stops[0].AtM < toM {
		at := w.stops[0].AtM
		lat, lon := w.route.At(at)
		w.out = append(w.out, Instant{At: w.after(w.ridingS + (at-s.fromM)/speedMS), DistM: at, LatDeg: lat, LonDeg: lon})
		w.halt(at)
	}
	w.ridingS += s.lengthM / speedMS
	w.out = append(w.out, Instant{At: w.now(), DistM: toM, LatDeg: s.toLat, LonDeg: s.toLon})
	w.halt(toM)
}

// halt stands at the last instant for as long as the stops there say.
func (w *writer) halt(atM float64) {
	for len(w.stops) > 0 && w.stops[0].AtM <= atM {
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
