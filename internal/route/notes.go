package route

import (
	"fmt"
	"math"
	"strings"
)

// What is worth a note: common practice, no source.
const (
	straightM     = 2000.0 // a leg this long is hardly a straight road
	steepGradient = 0.25   // hardly a public road
)

func (r *Route) note(format string, args ...any) {
	r.Notes = append(r.Notes, fmt.Sprintf(format, args...))
}

// noteSegments tells of gaps in the line.
func (r *Route) noteSegments() {
	segments := 1
	for _, p := range r.Points {
		if p.NewSegment {
			segments++
		}
	}
	if segments == 1 {
		return
	}
	gaps := metres(r.DistanceM - r.SegmentsDistanceM)
	if segments == 2 {
		r.note("The line has 2 segments: the gap of %s is ridden straight.", gaps)
	} else {
		r.note("The line has %d segments: the gaps, %s in all, are ridden straight.", segments, gaps)
	}
}

// noteMeeting tells of a meeting point, if a waypoint names one, away from where
// the line starts.
func (r *Route) noteMeeting() {
	start := r.Points[0]
	for _, w := range r.Waypoints {
		if !strings.Contains(strings.ToLower(w.Name+" "+w.Type), "meeting point") {
			continue
		}
		if apart := DistanceM(w.LatDeg, w.LonDeg, start.LatDeg, start.LonDeg); apart > closeM {
			r.note("The line starts %s from the meeting point %s: the way there is not reckoned.", metres(apart), quote(w.Name))
		}
	}
}

// noteStraights tells of points so far apart that the road must be longer.
func (r *Route) noteStraights() {
	longest := 0.0
	for i := 1; i < len(r.Points); i++ {
		if !r.Points[i].NewSegment {
			longest = max(longest, r.Points[i].DistM-r.Points[i-1].DistM)
		}
	}
	if longest > straightM {
		r.note("Two points are %s apart in a straight line: the road is probably longer, and the ride later.", metres(longest))
	}
}

// measureElevation fills in all that comes of elevation, and says where it is
// missing or odd.
func (r *Route) measureElevation(unusable int) {
	known, low, high := 0, math.Inf(1), math.Inf(-1)
	for _, p := range r.Points {
		if !math.IsNaN(p.ElevM) {
			known, low, high = known+1, min(low, p.ElevM), max(high, p.ElevM)
		}
	}
	if unusable > 0 {
		r.note("%s not usable (not a number, or outside %d to %d m) and taken as unknown.",
			count(unusable, "elevation is", "elevations are"), minElevM, maxElevM)
	}
	switch {
	case known < 2:
		r.note("No elevation in the file: a flat road is assumed.")
		return
	case known < len(r.Points):
		r.note("%s no elevation: an even slope is assumed there.", count(len(r.Points)-known, "point has", "points have"))
	}
	if low == high {
		r.note("Every elevation in the file is %g m: a flat road is assumed.", low)
	}
	r.HasElevation = true
	smoothElev(r.Points)
	r.AscentRawM = rawRises(r.Points)
	r.AscentM, r.DescentM = rises(r.Points)
	r.Climbs = climbs(r, 1, climbGradient)
	r.Descents = climbs(r, -1, descentGradient)
	r.noteSteep()
}

// noteSteep tells of a gradient that points to wrong elevations.
func (r *Route) noteSteep() {
	worst, at := 0.0, 0.0
	for _, s := range [][]Stretch{r.Climbs, r.Descents} {
		for _, one := range s {
			if g := math.Abs(one.GradientMax); g > worst {
				worst, at = g, one.FromM
			}
		}
	}
	if worst > steepGradient {
		r.note("The line is as steep as %.0f %% in the stretch from km %.1f: look whether its elevations are right.", worst*100, at/1000)
	}
}
