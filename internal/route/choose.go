package route

import (
	"fmt"
	"slices"
)

// nextTrackM is how near the next track must start to be ridden on to: common
// practice, no source.
const nextTrackM = 500.0

// choose picks the line of a file. Tracks come before routes, as files often
// hold the same line as both. Tracks that follow on from each other are
// joined; if there are several such runs, the longest counts. A line that the file
// has more than once counts once.
func (d *document) choose() (path, []string, error) {
	var notes []string
	tracks, routes := withLine(d.tracks), withLine(d.routes)
	paths, one, many := tracks, "track", "tracks"
	switch {
	case len(tracks)+len(routes) == 0:
		return path{}, nil, d.noLine()
	case len(tracks) == 0:
		paths, one, many = routes, "route", "routes"
	case len(routes) > 0:
		notes = append(notes, "The file has both a track and a route: the track is used.")
	}
	if once := distinct(paths); len(once) < len(paths) {
		notes = append(notes, fmt.Sprintf("The file has %s of one line: it is ridden once.", count(len(paths)-len(once)+1, one, many)))
		paths = once
	}
	runs := joined(paths)
	best := runs[0]
	for _, run := range runs[1:] {
		if run.lengthM > best.lengthM {
			best = run
		}
	}
	switch {
	case len(runs) > 1:
		notes = append(notes, fmt.Sprintf("The file has %s that do not follow on from each other: the longest line, of %s, is used.",
			count(len(paths), one, many), metres(best.lengthM)))
	case len(paths) > 1:
		notes = append(notes, fmt.Sprintf("The file has %s, which are ridden one after the other.", count(len(paths), one, many)))
	}
	if best.backs > 0 {
		notes = append(notes, fmt.Sprintf("Recorded times run backwards in %s; recorded times are not used.", count(best.backs, "place", "places")))
	}
	if d.moreWaypoints > 0 {
		notes = append(notes, fmt.Sprintf("The file has %d waypoints: only the first %d are kept.", MaxWaypoints+d.moreWaypoints, MaxWaypoints))
	}
	return best, notes, nil
}

// noLine says what is there in place of a line.
func (d *document) noLine() *Error {
	switch {
	case d.points > 0:
		return tooFew()
	case len(d.waypoints) > 0:
		return &Error{What: "the file has waypoints but no track or route", Next: "export the line as a track"}
	}
	return &Error{What: "the file has no track and no route", Next: "export the line as a track"}
}

func tooFew() *Error {
	return &Error{What: "the line has fewer than two different points", Next: "export the whole line as a track"}
}

// withLine leaves out what has fewer than two different points.
func withLine(paths []path) []path {
	var out []path
	for _, p := range paths {
		for _, c := range p.coords {
			if !samePlace(c, p.coords[0]) {
				out = append(out, p)
				break
			}
		}
	}
	return out
}

// distinct leaves out what runs through the same points as one before: a file with the times of several groups has the
// same line for each.
func distinct(paths []path) []path {
	var out []path
	for _, p := range paths {
		if !slices.ContainsFunc(out, func(q path) bool { return slices.EqualFunc(p.coords, q.coords, samePlace) }) {
			out = append(out, p)
		}
	}
	return out
}

// joined makes runs of the paths that start near where the one before ends,
// and measures each run.
func joined(paths []path) []path {
	var runs []path
	for _, p := range paths {
		p.lengthM = lengthM(p.coords)
		if n := len(runs) - 1; n >= 0 {
			run := &runs[n]
			if gap := apartM(run.coords[len(run.coords)-1], p.coords[0]); gap <= nextTrackM {
				from := len(run.coords)
				run.coords = append(run.coords, p.coords...)
				run.coords[from].NewSegment = true
				run.backs += p.backs
				run.lengthM += gap + p.lengthM
				continue
			}
		}
		runs = append(runs, p)
	}
	return runs
}

// lengthM is the length along coordinates, gaps included.
func lengthM(coords []Coord) float64 {
	sum := 0.0
	for i := 1; i < len(coords); i++ {
		sum += apartM(coords[i-1], coords[i])
	}
	return sum
}

func apartM(a, b Coord) float64 { return DistanceM(a.LatDeg, a.LonDeg, b.LatDeg, b.LonDeg) }

func samePlace(a, b Coord) bool { return a.LatDeg == b.LatDeg && a.LonDeg == b.LonDeg }
