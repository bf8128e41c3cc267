package daylight

import (
	"errors"
	"fmt"
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

// Latest is the latest start from earliest to latest, to the second, for which
// holds is true of the timeline shifted to that start. holds must be monotone:
// once false for a start it is false for every later one; then all starts up to
// the one returned hold. It is asked about log2 of the interval in seconds
// times (18 for a day). ok is false if it does not even hold at earliest.
//
// An error of holds ends the search and is returned as it is. It refuses a bad
// timeline as [Of] does, an interval that ends before it begins, and starts more
// than a year from the planned one.
func Latest(tl *pace.Timeline, earliest, latest time.Time, holds func(*pace.Timeline) (bool, error)) (start time.Time, ok bool, err error) {
	if err := checkTimeline(tl); err != nil {
		return time.Time{}, false, err
	}
	if err := checkSearch(tl.Start(), earliest, latest); err != nil {
		return time.Time{}, false, err
	}
	if holds == nil {
		return time.Time{}, false, errors.New("daylight: no condition given for the latest start")
	}
	holdsAt := func(at time.Time) (bool, error) { return holds(tl.Shift(at.Sub(tl.Start()))) }

	if ok, err := holdsAt(earliest); err != nil || !ok {
		return time.Time{}, false, err
	}
	if ok, err := holdsAt(latest); err != nil {
		return time.Time{}, false, err
	} else if ok {
		return latest, true, nil
	}
	good, bad := earliest, latest
	for bad.Sub(good) > time.Second {
		mid := good.Add((bad.Sub(good) / 2).Truncate(time.Second))
		if !mid.After(good) {
			mid = good.Add(time.Second)
		}
		ok, err := holdsAt(mid)
		switch {
		case err != nil:
			return time.Time{}, false, err
		case ok:
			good = mid
		default:
			bad = mid
		}
	}
	return good, true, nil
}

// maxShift is how far from the plan a start may be sought: a time never set
// (year 1) is refused rather than searched from.
const maxShift = 366 * 24 * time.Hour

func checkSearch(planned, earliest, latest time.Time) error {
	if latest.Before(earliest) {
		return fmt.Errorf("daylight: the latest start %v is before the earliest %v: swap them", latest, earliest)
	}
	if planned.Sub(earliest) > maxShift || latest.Sub(planned) > maxShift {
		return fmt.Errorf("daylight: starts from %v to %v are more than a year from the planned %v: check the dates", earliest, latest, planned)
	}
	return nil
}
