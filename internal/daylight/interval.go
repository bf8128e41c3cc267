package daylight

import (
	"fmt"
	"slices"
	"time"
)

// Interval is a stretch of time, From before To.
type Interval struct {
	From, To time.Time
}

// Intervals in this package are kept in order and apart; a plain list of them
// is called spells.

func checkIntervals(list []Interval) error {
	for i, v := range list {
		if v.To.Before(v.From) {
			return fmt.Errorf("daylight: interval %d of poor visibility ends (%v) before it begins (%v): swap them", i+1, v.To, v.From)
		}
	}
	return nil
}

// widen grows each interval by d at both ends.
func widen(list []Interval, d time.Duration) []Interval {
	out := make([]Interval, 0, len(list))
	for _, v := range list {
		out = append(out, Interval{v.From.Add(-d), v.To.Add(d)})
	}
	return out
}

// union joins two lists, in any order, into spells.
func union(a, b []Interval) []Interval {
	all := slices.Concat(a, b)
	slices.SortFunc(all, func(x, y Interval) int { return x.From.Compare(y.From) })
	var out []Interval
	for _, v := range all {
		if n := len(out); n > 0 && !v.From.After(out[n-1].To) {
			if v.To.After(out[n-1].To) {
				out[n-1].To = v.To
			}
			continue
		}
		out = append(out, v)
	}
	return out
}

// clip keeps what lies between from and to, expressed in from's location.
func clip(list []Interval, from, to time.Time) []Interval {
	var out []Interval
	for _, v := range list {
		if v.From.Before(from) {
			v.From = from
		}
		if v.To.After(to) {
			v.To = to
		}
		if v.From.Before(v.To) {
			out = append(out, Interval{v.From.In(from.Location()), v.To.In(from.Location())})
		}
	}
	return out
}

func total(list []Interval) time.Duration {
	var sum time.Duration
	for _, v := range list {
		sum += v.To.Sub(v.From)
	}
	return sum
}

// ends are the beginning of the first interval and the end of the last, nil if
// there is none.
func ends(list []Interval) (first, last *time.Time) {
	if len(list) == 0 {
		return nil, nil
	}
	from, to := list[0].From, list[len(list)-1].To
	return &from, &to
}

// covers reports whether t lies in one of the intervals.
func covers(list []Interval, t time.Time) bool {
	for _, v := range list {
		if !t.Before(v.From) && t.Before(v.To) {
			return true
		}
	}
	return false
}
