package pace

import (
	"sort"
	"time"
)

// Instant is where a group is at one moment of its ride.
type Instant struct {
	// At is the moment.
	At time.Time
	// DistM is how far along the route the group is, in metres from the start.
	DistM float64
	// LatDeg is the latitude in degrees, north positive.
	LatDeg float64
	// LonDeg is the longitude in degrees, east positive.
	LonDeg float64
	// Stop is the name of the stop while the group stands there, else "".
	Stop string
}

// Timeline is a group's ride from start to home. Instants are ordered in time,
// at least two; between two instants the group moves linearly in time. A stop is
// two instants at the same place that both carry the stop's name.
type Timeline struct {
	Instants []Instant
}

// Start is the moment the group sets off.
func (t *Timeline) Start() time.Time { return t.Instants[0].At }

// Home is the moment the group reaches the end of the route.
func (t *Timeline) Home() time.Time { return t.Instants[len(t.Instants)-1].At }

// AtTime is where the group is at a moment: at the start of the route before
// Start, at its end after Home. At carries the moment asked for.
func (t *Timeline) AtTime(at time.Time) Instant {
	n := len(t.Instants)
	i := sort.Search(n, func(k int) bool { return t.Instants[k].At.After(at) })
	if i == 0 || i == n {
		in := t.Instants[max(0, min(i, n-1))]
		in.At = at
		return in
	}
	a, b := t.Instants[i-1], t.Instants[i]
	f := float64(at.Sub(a.At)) / float64(b.At.Sub(a.At))
	in := between(a, b, f)
	in.At = at
	if a.Stop == b.Stop && a.DistM == b.DistM {
		in.Stop = a.Stop
	}
	return in
}

// AtDist is the moment the group first reaches a distance along the route, in
// metres: Start for a distance at or before the start, Home at or beyond the end.
func (t *Timeline) AtDist(distM float64) time.Time {
	n := len(t.Instants)
	i := sort.Search(n, func(k int) bool { return t.Instants[k].DistM >= distM })
	switch i {
	case 0:
		return t.Start()
	case n:
		return t.Home()
	}
	a, b := t.Instants[i-1], t.Instants[i]
	f := (distM - a.DistM) / (b.DistM - a.DistM)
	return a.At.Add(time.Duration(f * float64(b.At.Sub(a.At))))
}

// Shift is the same ride with every moment later by d (earlier if negative).
// Conditions are not looked at again; plan anew when they change with the hour.
func (t *Timeline) Shift(d time.Duration) *Timeline {
	out := &Timeline{Instants: make([]Instant, len(t.Instants))}
	for i, in := range t.Instants {
		in.At = in.At.Add(d)
		out.Instants[i] = in
	}
	return out
}

// between is the place a share f (0 to 1) of the way from a to b; longitude is
// taken the short way round, so that the date line is no obstacle.
func between(a, b Instant, f float64) Instant {
	dLon := b.LonDeg - a.LonDeg
	if dLon > 180 {
		dLon -= 360
	} else if dLon < -180 {
		dLon += 360
	}
	lon := a.LonDeg + f*dLon
	if lon > 180 {
		lon -= 360
	} else if lon < -180 {
		lon += 360
	}
	return Instant{
		DistM:  a.DistM + f*(b.DistM-a.DistM),
		LatDeg: a.LatDeg + f*(b.LatDeg-a.LatDeg),
		LonDeg: lon,
	}
}
