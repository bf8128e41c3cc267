package daylight

import (
	"fmt"
	"slices"
	"time"

	"gritward/internal/pace"
	"gritward/internal/sun"
)

// LatestHomeBy is the latest start, to the second and on the civil day of the
// planned start (in its location), with which the group is home margin before
// dark begins at the finish. The ride takes as long as planned.
//
// The dark meant is the one that ends that day: it is the first to begin at the
// finish after the day's solar noon there. ok is false if no start on that day
// does: the sun stays below the rule's limit at noon, the day is shorter than
// the margin, or the ride would have to begin the day before. Where no dark
// follows (polar day), the last second of the day is returned.
//
// It refuses what [Of] refuses, and a margin below 0 or above 12 hours.
func LatestHomeBy(tl *pace.Timeline, r Rule, margin time.Duration) (start time.Time, ok bool, err error) {
	if err := checkTimeline(tl); err != nil {
		return time.Time{}, false, err
	}
	if err := (Rule{r.Begins, margin}).Validate(); err != nil {
		return time.Time{}, false, err
	}
	return latestHomeBy(tl, r, margin)
}

// latestHomeBy is LatestHomeBy for what has been checked but for the year.
func latestHomeBy(tl *pace.Timeline, r Rule, margin time.Duration) (start time.Time, ok bool, err error) {
	planned, takes := tl.Start(), tl.Home().Sub(tl.Start())
	y, m, d := planned.Date()
	day, err := sun.On(y, m, d, planned.Location(), finishOf(tl))
	if err != nil {
		return time.Time{}, false, fmt.Errorf("daylight: the ride's date: %w", err)
	}
	finish := r.Begins.at(finishOf(tl))
	if finish(day.SolarNoon) < 0 {
		return time.Time{}, false, nil
	}
	midnight := time.Date(y, m, d, 0, 0, 0, 0, planned.Location())
	last := time.Date(y, m, d+1, 0, 0, 0, 0, planned.Location()).Add(-time.Second)
	dark, found := nextBelow(finish, day.SolarNoon, last.Add(takes+margin))
	if !found {
		return last, true, nil
	}
	start = dark.Add(-margin - takes).Truncate(time.Second)
	if start.After(last) {
		start = last
	}
	if start.Before(midnight) || inMorningDark(finish, start.Add(takes), day.SolarNoon) {
		return time.Time{}, false, nil
	}
	return start, true, nil
}

// inMorningDark reports whether a group home before noon is home before the
// day's dark has ended.
func inMorningDark(finish height, home, noon time.Time) bool {
	return home.Before(noon) && len(spells(finish, home, noon)) > 0
}

// Latest is the latest start, to the second, up to which a condition holds of
// every start from the first one on; starts are tried at whole seconds after
// from. ok is false if it does not even hold at from.
//
// The condition may come and go at the breaks, in any order. Between two of
// them each of its parts must be monotone in the start: one that begins to fail
// there goes on failing up to the next break. Then, as all parts hold at the
// beginning of a piece, all hold throughout if they hold at its end; and if they
// do not, the first failure is found by bisection. Nothing is stepped through.
//
// An error of holds ends the search and is returned as it is.
func Latest(from, to time.Time, breaks []time.Time, holds func(start time.Time) (bool, error)) (start time.Time, ok bool, err error) {
	if to.Before(from) || to.Sub(from) > maxSearch {
		return time.Time{}, false, fmt.Errorf("daylight: starts from %v to %v: the second must be the later one, by %v at most", from, to, maxSearch)
	}
	if ok, err := holds(from); err != nil || !ok {
		return time.Time{}, false, err
	}
	good := from
	for _, at := range tried(from, to, breaks) {
		ok, err := holds(at)
		if err != nil {
			return time.Time{}, false, err
		}
		if !ok {
			start, err := lastGood(good, at, holds)
			return start, err == nil, err
		}
		good = at
	}
	return good, true, nil
}

// maxSearch is how long a span of starts may be: a time never set (year 1) is refused rather than searched from.
const maxSearch = 366 * 24 * time.Hour

// tried are the starts at which the pieces between breaks begin and end, in order, the last one included.
func tried(from, to time.Time, breaks []time.Time) []time.Time {
	last := from.Add(to.Sub(from).Truncate(time.Second))
	marks := []time.Time{last}
	for _, b := range breaks {
		second := from.Add(b.Sub(from).Truncate(time.Second))
		marks = append(marks, second.Add(-time.Second), second, second.Add(time.Second))
	}
	marks = slices.DeleteFunc(marks, func(t time.Time) bool { return !t.After(from) || t.After(last) })
	slices.SortFunc(marks, time.Time.Compare)
	return slices.CompactFunc(marks, time.Time.Equal)
}

// lastGood bisects for the last second before a condition that holds at good and not at bad turns.
func lastGood(good, bad time.Time, holds func(time.Time) (bool, error)) (time.Time, error) {
	for bad.Sub(good) > time.Second {
		mid := good.Add((bad.Sub(good) / 2).Truncate(time.Second))
		if !mid.After(good) {
			mid = good.Add(time.Second)
		}
		ok, err := holds(mid)
		switch {
		case err != nil:
			return time.Time{}, err
		case ok:
			good = mid
		default:
			bad = mid
		}
	}
	return good, nil
}

// Edges are the instants after from, up to to, at which it begins or ends to be dark under a rule, or lights begin or
// end to be needed, for somebody who stays at a place. poor is as in [Of], whose refusals are the same.
func Edges(p sun.Place, r Rule, poor []Interval, from, to time.Time) ([]time.Time, error) {
	if !to.After(from) {
		return nil, nil
	}
	stay := &pace.Timeline{Instants: []pace.Instant{
		{At: from, LatDeg: p.LatDeg, LonDeg: p.LonDeg}, {At: to, LatDeg: p.LatDeg, LonDeg: p.LonDeg}}}
	if err := check(stay, r, poor); err != nil {
		return nil, err
	}
	dark := spells(r.Begins.at(p), from.Add(-r.Margin), to.Add(r.Margin))
	var edges []time.Time
	for _, list := range [][]Interval{dark, union(widen(dark, r.Margin), poor)} {
		for _, v := range list {
			edges = append(edges, v.From.In(from.Location()), v.To.In(from.Location()))
		}
	}
	edges = slices.DeleteFunc(edges, func(at time.Time) bool { return !at.After(from) || at.After(to) })
	slices.SortFunc(edges, time.Time.Compare)
	return slices.CompactFunc(edges, time.Time.Equal), nil
}
