package placement

import (
	"errors"
	"fmt"
	"math"
)

// Limits of a problem. They keep the scaled costs inside 64 bits (see weights)
// and a set of places inside one machine word.
const (
	MaxRiders  = 2000
	MaxGroups  = 15
	MaxPaceKmh = 100.0
	// DefaultNodeLimit is used when Problem.NodeLimit is 0.
	DefaultNodeLimit = 20000
)

// validate reports everything malformed in a problem, each with the path of the
// field and what to do.
func validate(p Problem) error {
	v := &validator{riders: map[string]int{}, groups: map[string]int{}}
	if len(p.Riders) > MaxRiders {
		v.failf("riders", "%d riders, at most %d: split the ride", len(p.Riders), MaxRiders)
	}
	if len(p.Groups) > MaxGroups {
		v.failf("groups", "%d groups, at most %d: split the ride", len(p.Groups), MaxGroups)
	}
	if p.NodeLimit < 0 {
		v.failf("node_limit", "%d is negative: give 0 for the default, or more", p.NodeLimit)
	}
	if v.errs != nil {
		return errors.Join(v.errs...)
	}
	for i, r := range p.Riders {
		v.unique(v.riders, "riders", i, r.ID)
	}
	for i, g := range p.Groups {
		v.unique(v.groups, "groups", i, g.ID)
	}
	for i, r := range p.Riders {
		v.rider(p, fmt.Sprintf("riders[%d]", i), r)
	}
	named := map[string]string{}
	for i, g := range p.Groups {
		v.group(fmt.Sprintf("groups[%d]", i), g)
		v.named(named, fmt.Sprintf("groups[%d].leader", i), g.Leader)
		v.named(named, fmt.Sprintf("groups[%d].back_marker", i), g.BackMarker)
	}
	return errors.Join(v.errs...)
}

type validator struct {
	riders, groups map[string]int // index by ID
	errs           []error
}

func (v *validator) failf(path, format string, args ...any) {
	v.errs = append(v.errs, fmt.Errorf("placement: %s: %s", path, fmt.Sprintf(format, args...)))
}

func (v *validator) unique(seen map[string]int, list string, i int, id string) {
	path := fmt.Sprintf("%s[%d].id", list, i)
	if id == "" {
		v.failf(path, "empty: give every entry an ID")
		return
	}
	if first, ok := seen[id]; ok {
		v.failf(path, "%q is already %s[%d]: give each ID once", id, list, first)
		return
	}
	seen[id] = i
}

func (v *validator) rider(p Problem, path string, r Rider) {
	v.pace(path+".pace_min_kmh", r.PaceMinKmh)
	v.pace(path+".pace_max_kmh", r.PaceMaxKmh)
	if r.PaceMinKmh > r.PaceMaxKmh {
		v.failf(path+".pace_min_kmh", "%g is above pace_max_kmh %g: swap them", r.PaceMinKmh, r.PaceMaxKmh)
	}
	if _, ok := v.groups[r.Pinned]; !ok && r.Pinned != "" {
		v.failf(path+".pinned", "no group %q: pin to a group of this ride or clear the pin", r.Pinned)
	}
	for _, g := range p.Groups {
		if s, ok := r.Standings[g.ID]; ok && (s < Clear || s > Held) {
			v.failf(path+".standings["+g.ID+"]", "%d is no standing: give clear, advised, back or held", int(s))
		}
	}
	if r.Experience < 0 {
		v.failf(path+".experience", "%d is negative: give the number of rides ridden", r.Experience)
	}
	v.guardian(p, path+".guardian", r)
}

func (v *validator) guardian(p Problem, path string, r Rider) {
	if r.Guardian == "" {
		return
	}
	i, ok := v.riders[r.Guardian]
	switch {
	case !ok:
		v.failf(path, "no rider %q: the guardian must be signed up for the ride; sign the guardian up or name another", r.Guardian)
	case r.Guardian == r.ID:
		v.failf(path, "%q is the rider's own ID: name another rider", r.Guardian)
	case p.Riders[i].Junior:
		v.failf(path, "%q is a junior: name an adult", r.Guardian)
	}
}

func (v *validator) group(path string, g Group) {
	v.pace(path+".pace_kmh", g.PaceKmh)
	if g.PaceKmh == 0 {
		v.failf(path+".pace_kmh", "is 0: give the group's pace on a flat road")
	}
	v.count(path+".min_size", g.MinSize)
	v.count(path+".max_size", g.MaxSize)
	v.count(path+".back_places", g.BackPlaces)
	if g.MinSize > g.MaxSize {
		v.failf(path+".min_size", "%d is above max_size %d: lower it or raise max_size", g.MinSize, g.MaxSize)
	}
}

// named checks a rider named for a role; one rider is named for one role of one group.
func (v *validator) named(seen map[string]string, path, id string) {
	if id == "" {
		return
	}
	if _, ok := v.riders[id]; !ok {
		v.failf(path, "no rider %q: name a rider who is signed up, or nobody", id)
		return
	}
	if other, ok := seen[id]; ok {
		v.failf(path, "%q is already named at %s: name a different rider", id, other)
		return
	}
	seen[id] = path
}

func (v *validator) count(path string, n int) {
	if n < 0 {
		v.failf(path, "%d is negative: give 0 or more", n)
	}
}

func (v *validator) pace(path string, kmh float64) {
	if math.IsNaN(kmh) || kmh < 0 || kmh > MaxPaceKmh {
		v.failf(path, "%g is not a pace: give 0 to %g km/h", kmh, MaxPaceKmh)
	}
}
