package pace

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"gritward/internal/route"
)

// Limits of a plan.
const (
	MinPaceKmh = 5.0  // slower is walking
	MaxPaceKmh = 60.0 // faster is no club group
	MaxStop    = 24 * time.Hour
)

// Stop is a planned halt.
type Stop struct {
	Name string        // not empty
	AtM  float64       // metres along the line, 0 to its length
	For  time.Duration // more than 0, at most MaxStop
}

// Group is a group as far as its speed goes.
type Group struct {
	PaceKmh float64 // steady speed on a flat road in still air, MinPaceKmh to MaxPaceKmh
	Params  Params
	// TimeFactor is how much longer than reckoned the group takes to ride, as
	// [Refine] finds it: MinTimeFactor to MaxTimeFactor; 0 is 1. Below 1 the
	// caps downhill still hold.
	TimeFactor float64
}

func (g Group) timeFactor() float64 {
	if g.TimeFactor == 0 {
		return 1
	}
	return g.TimeFactor
}

// PowerW is the power of the group's average rider, in watts at the cranks,
// that follows from its pace, in air of the density in Params.
func (g Group) PowerW() float64 { return PowerW(g.Params, kmh(g.PaceKmh), 0, 0) }

// Plan is the timeline of a group that sets off at start. Stops may come in
// any order, and so may spells. A stop at the very end counts as part of the
// ride: the group is home after it. Errors name the field and what to do.
func Plan(r *route.Route, g Group, start time.Time, stops []Stop, spells []Spell) (*Timeline, error) {
	if err := check(r, g, start, stops, spells); err != nil {
		return nil, err
	}
	stops = slices.Clone(stops)
	slices.SortStableFunc(stops, func(a, b Stop) int { return cmp.Compare(a.AtM, b.AtM) })
	spells = slices.Clone(spells)
	slices.SortStableFunc(spells, func(a, b Spell) int { return a.From.Compare(b.From) })

	stretches := cut(r)
	lat, lon := r.At(0)
	w := &writer{route: r, start: start, stops: stops}
	w.out = make([]Instant, 0, len(stretches)+1+2*len(stops))
	w.out = append(w.out, Instant{At: start, LatDeg: lat, LonDeg: lon})
	w.halt(0)
	ride := newRider(g, spells)
	for i, s := range stretches {
		toM := s.fromM + s.lengthM
		if i == len(stretches)-1 {
			toM = r.DistanceM
		}
		w.ride(ride, s, toM)
	}
	return &Timeline{Instants: w.out}, nil
}

// check validates what Plan is given.
func check(r *route.Route, g Group, start time.Time, stops []Stop, spells []Spell) error {
	switch {
	case r == nil || len(r.Points) < 2 || !(r.DistanceM > 0):
		return fmt.Errorf("route has no line: read one from a file first")
	case !(g.PaceKmh >= MinPaceKmh && g.PaceKmh <= MaxPaceKmh):
		return fmt.Errorf("pace_kmh is %g: it must be from %g to %g; give the steady speed on a flat road in still air, in km/h", g.PaceKmh, MinPaceKmh, MaxPaceKmh)
	case !(g.timeFactor() >= MinTimeFactor && g.timeFactor() <= MaxTimeFactor):
		return fmt.Errorf("time_factor is %g: it must be from %g to %g, or 0 for none", g.TimeFactor, MinTimeFactor, MaxTimeFactor)
	case start.IsZero():
		return fmt.Errorf("start is not set: say when the group sets off")
	}
	for i, s := range stops {
		switch {
		case s.Name == "":
			return fmt.Errorf("stops[%d].name is empty: say what the stop is", i)
		case !(s.AtM >= 0 && s.AtM <= r.DistanceM):
			return fmt.Errorf("stops[%d].at_m is %g: the route goes from 0 to %.0f m; put the stop on it", i, s.AtM, r.DistanceM)
		case s.For <= 0 || s.For > MaxStop:
			return fmt.Errorf("stops[%d].for is %s: it must be above 0 and at most %s; say how long the group stands there", i, s.For, MaxStop)
		}
	}
	for i, s := range spells {
		if err := s.check(i); err != nil {
			return err
		}
	}
	return g.Params.check()
}
