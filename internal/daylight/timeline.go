package daylight

import (
	"errors"
	"fmt"
	"time"

	"gritward/internal/pace"
	"gritward/internal/sun"
)

// maxRide is the longest timeline accepted: no club run lasts a week.
const maxRide = 7 * 24 * time.Hour

// checkTimeline refuses what the calculations cannot be right about.
func checkTimeline(tl *pace.Timeline) error {
	if tl == nil || len(tl.Instants) < 2 {
		return errors.New("daylight: the timeline has fewer than two instants: plan the group's ride first")
	}
	for i, in := range tl.Instants {
		if err := placeOf(in).Validate(); err != nil {
			return fmt.Errorf("daylight: instant %d of the timeline: %w", i, err)
		}
		if i > 0 && !in.At.After(tl.Instants[i-1].At) {
			return fmt.Errorf("daylight: instant %d of the timeline (%v) is not after the one before: put them in order of time", i, in.At)
		}
	}
	if d := tl.Home().Sub(tl.Start()); d > maxRide {
		return fmt.Errorf("daylight: the timeline lasts %v, more than a week: check its times", d)
	}
	return nil
}

func placeOf(in pace.Instant) sun.Place {
	return sun.Place{LatDeg: in.LatDeg, LonDeg: in.LonDeg}
}

func finishOf(tl *pace.Timeline) sun.Place {
	return placeOf(tl.Instants[len(tl.Instants)-1])
}

// along is the height over b's limit of the sun for the moving group, which
// stands at the start before the ride and at the finish after it.
func (b Begins) along(tl *pace.Timeline) height {
	return func(t time.Time) float64 { return b.heightDeg(t, placeOf(tl.AtTime(t))) }
}

// at is the same for somebody who stays at p.
func (b Begins) at(p sun.Place) height {
	return func(t time.Time) float64 { return b.heightDeg(t, p) }
}

// halts are the stretches in which the group stands still.
func halts(tl *pace.Timeline) []Interval {
	var out []Interval
	for i := 1; i < len(tl.Instants); i++ {
		a, b := &tl.Instants[i-1], &tl.Instants[i]
		if a.DistM == b.DistM {
			out = append(out, Interval{a.At, b.At})
		}
	}
	return union(out, nil)
}
