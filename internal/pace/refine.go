package pace

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Limits of what past rides may say about a group's times. All are ours.
const (
	// MinPastRides is the fewest rides a time factor rests on. With five, one
	// ride spoilt by a puncture or a late mark cannot pull it away.
	MinPastRides = 5
	// MaxPastRides is the most: the newest count, so that a group that has
	// changed is soon known again.
	MaxPastRides = 20
	// MaxPastAge is how old a ride may be that still counts: a year and a month,
	// so that the same weeks of the winter before do.
	MaxPastAge = 400 * 24 * time.Hour
	// MinPastRiding is the shortest riding time, planned and taken, that counts:
	// below it a late mark or a wait at the start outweighs the riding. Common
	// practice, no source.
	MinPastRiding = 30 * time.Minute
	// MinPastRatio and MaxPastRatio bound what a ride may have taken of what was
	// planned: beyond them the marks are wrong, or it was another ride. Common
	// practice, no source.
	MinPastRatio, MaxPastRatio = 0.5, 2.0
	// MinTimeFactor and MaxTimeFactor bound a time factor. The way down is
	// shorter: a plan that has a group home too early is the worse mistake.
	MinTimeFactor, MaxTimeFactor = 0.9, 1.25
)

// PastRide is how long a group took for a ride, and how long it was to take.
type PastRide struct {
	Start time.Time
	// Planned is the riding time, without stops, as reckoned by pace alone: with
	// a time factor of 1. Took is the riding time as recorded, planned stops
	// taken off.
	Planned, Took time.Duration
}

// LeftOut says in a few words why a ride says nothing about a group's times;
// "" where it does.
func (p PastRide) LeftOut() string {
	switch {
	case p.Planned < MinPastRiding || p.Took < MinPastRiding:
		return "under 30 min of riding"
	case float64(p.Took) < MinPastRatio*float64(p.Planned):
		return "under half the planned time"
	case float64(p.Took) > MaxPastRatio*float64(p.Planned):
		return "over twice the planned time"
	}
	return ""
}

// Refinement is what past rides say about a group's times.
type Refinement struct {
	// TimeFactor is what to plan with: 1.04 where the group takes 4 % longer
	// than its pace gives. 1 when there are not enough rides.
	TimeFactor float64
	// Found is the same before it was brought within its bounds.
	Found float64
	// Rests are the rides it rests on, as places in the list given, newest first;
	// those that would count, when they are fewer than MinPastRides.
	Rests []int
}

// Enough tells whether there were enough rides to say anything.
func (r Refinement) Enough() bool { return len(r.Rests) >= MinPastRides }

// Refine finds the time factor for a ride that starts at a moment from the
// group's rides before it, given in any order: the [HodgesLehmann] centre of
// the logarithms of took over planned. Rides that start at that moment or
// later, are too old, beyond the newest MaxPastRides, or not to be believed
// ([PastRide.LeftOut]) do not count. Each that counts weighs the same.
func Refine(past []PastRide, at time.Time) Refinement {
	var rests []int
	for i, p := range past {
		if p.Start.Before(at) && at.Sub(p.Start) <= MaxPastAge && p.LeftOut() == "" {
			rests = append(rests, i)
		}
	}
	slices.SortStableFunc(rests, func(a, b int) int {
		// Rides of one moment in the order of their times: what is given first must not matter.
		return cmp.Or(past[b].Start.Compare(past[a].Start), cmp.Compare(past[a].Took, past[b].Took),
			cmp.Compare(past[a].Planned, past[b].Planned))
	})
	r := Refinement{TimeFactor: 1, Found: 1, Rests: rests[:min(len(rests), MaxPastRides)]}
	if !r.Enough() {
		return r
	}
	logs := make([]float64, len(r.Rests))
	for i, k := range r.Rests {
		logs[i] = math.Log(float64(past[k].Took) / float64(past[k].Planned))
	}
	r.Found = math.Exp(HodgesLehmann(logs))
	r.TimeFactor = min(MaxTimeFactor, max(MinTimeFactor, r.Found))
	return r
}

// HodgesLehmann is a robust centre: the median of the means of all pairs of
// values, each with itself too (Hodges, Lehmann 1963, Estimates of location
// based on rank tests, Annals of Mathematical Statistics 34, 598-611). Up to
// 29 % of the values may be anything without it leaving the range of the
// others: one of five. It takes time and room of the square of their number.
// NaN for none.
func HodgesLehmann(values []float64) float64 {
	means := make([]float64, 0, len(values)*(len(values)+1)/2)
	for i, a := range values {
		for _, b := range values[i:] {
			means = append(means, a/2+b/2)
		}
	}
	slices.Sort(means)
	n := len(means)
	if n == 0 {
		return math.NaN()
	}
	return means[(n-1)/2]/2 + means[n/2]/2
}
