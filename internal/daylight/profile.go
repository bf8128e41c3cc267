package daylight

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"gritward/internal/pace"
	"gritward/internal/sun"
)

// State is the state of the sky by the sun alone.
type State int

const (
	Day      State = iota // the sun's centre at or above -0.8333 deg
	Twilight              // civil twilight: below that, at or above -6 deg
	Night                 // below -6 deg
)

// String is the state in plain words.
func (s State) String() string {
	switch s {
	case Day:
		return "day"
	case Twilight:
		return "twilight"
	default:
		return "night"
	}
}

// Span is a stretch of the ride in which nothing below changes.
type Span struct {
	From, To time.Time
	Sky      State
	Dark     bool // by the club's rule
	Lit      bool // lights are needed: dark, within the margin of dark, or poor visibility
	Stopped  bool // the group stands still
}

// Profile is the light along one group's ride.
type Profile struct {
	Start, Home time.Time
	Spans       []Span // without gaps from Start to Home; neighbours differ

	DarkFor, LitFor     time.Duration // of the whole ride, stops included
	FirstDark, LastDark *time.Time    // where dark first begins and last ends within the ride; nil: never dark
	FirstLit, LastLit   *time.Time    // the same for needing lights

	// SunsetAtHome is sunset at the finish on the civil day of Home; nil if
	// the sun does not set that day.
	SunsetAtHome *time.Time
	// DarkAtFinish is the beginning of dark at the finish that MarginToDark is
	// measured to: the next one after Home, or, if it is dark at Home, the one
	// that began that dark spell. Nil if there is none within 24 hours, as in
	// polar day and polar night.
	DarkAtFinish *time.Time
	// MarginToDark is DarkAtFinish minus Home: positive when the group is home
	// before dark, negative when it comes home in the dark (also before dawn).
	// Without a DarkAtFinish it is +24 h (light for a day to come) or -24 h
	// (dark for a day past).
	MarginToDark time.Duration
}

// lookout is how far from Home a beginning of dark is looked for.
const lookout = 24 * time.Hour

// Of is the light profile of a timeline under a rule. poor are the stretches,
// in any order, in which visibility is below the club's limit, so that lights
// are needed by day too. The margin is counted along the group's own ride: from
// where it meets the dark, and as if it stood at the start before setting off
// and at the finish after coming home.
//
// It refuses a timeline of fewer than two instants, out of order, with a place
// that is none or longer than a week, an unknown rule, a margin out of range,
// an interval that ends before it begins, and years outside 1900 to 2100.
func Of(tl *pace.Timeline, r Rule, poor []Interval) (Profile, error) {
	if err := check(tl, r, poor); err != nil {
		return Profile{}, err
	}
	return profile(tl, r, poor)
}

// check refuses what [Of] does but for the year.
func check(tl *pace.Timeline, r Rule, poor []Interval) error {
	if err := checkTimeline(tl); err != nil {
		return err
	}
	if err := r.Validate(); err != nil {
		return err
	}
	return checkIntervals(poor)
}

// Lit is for how long lights are needed on a group's ride that sets off later by so much than the timeline has it: in all,
// as LitFor of [Of] has it, and by the sun alone. It takes less than moving the timeline and reckoning the whole profile.
// The timeline must be one that Of takes; it refuses the rule and the intervals that Of does.
func Lit(tl *pace.Timeline, later time.Duration, r Rule, poor []Interval) (inAll, byTheSun time.Duration, err error) {
	if err := errors.Join(r.Validate(), checkIntervals(poor)); err != nil {
		return 0, 0, err
	}
	start, home := tl.Start().Add(later), tl.Home().Add(later)
	dark := spells(func(t time.Time) float64 { return r.Begins.heightDeg(t, placeOf(tl.AtTime(t.Add(-later)))) },
		start.Add(-r.Margin), home.Add(r.Margin))
	lit := widen(dark, r.Margin)
	return total(clip(union(lit, poor), start, home)), total(clip(union(lit, nil), start, home)), nil
}

// profile is Of for what has been checked but for the year.
func profile(tl *pace.Timeline, r Rule, poor []Interval) (Profile, error) {
	start, home := tl.Start(), tl.Home().In(tl.Start().Location())
	from, to := start.Add(-r.Margin), home.Add(r.Margin)
	c := cut{start: start, home: home}
	down, civil := spells(Sunset.along(tl), from, to), spells(CivilDusk.along(tl), from, to)
	dark := down
	switch r.Begins {
	case CivilDusk:
		dark = civil
	case LightingUp:
		dark = spells(LightingUp.along(tl), from, to)
	}
	c.down, c.civil, c.dark = clip(down, start, home), clip(civil, start, home), clip(dark, start, home)
	c.lit = clip(union(widen(dark, r.Margin), poor), start, home)
	c.halts = clip(halts(tl), start, home)

	p := Profile{Start: start, Home: home, Spans: c.spans(), DarkFor: total(c.dark), LitFor: total(c.lit)}
	p.FirstDark, p.LastDark = ends(c.dark)
	p.FirstLit, p.LastLit = ends(c.lit)
	p.DarkAtFinish, p.MarginToDark = marginToDark(r.Begins.at(finishOf(tl)), home)
	day, err := sun.On(home.Year(), home.Month(), home.Day(), home.Location(), finishOf(tl))
	if err != nil {
		return Profile{}, fmt.Errorf("daylight: the ride's date: %w", err)
	}
	p.SunsetAtHome = day.Sunset
	return p, nil
}

// marginToDark is what Profile says of DarkAtFinish and MarginToDark.
func marginToDark(finish height, home time.Time) (*time.Time, time.Duration) {
	if finish(home) >= 0 {
		at, ok := nextBelow(finish, home, home.Add(lookout))
		if !ok {
			return nil, lookout
		}
		return &at, at.Sub(home)
	}
	past := spells(finish, home.Add(-lookout), home)
	began := past[len(past)-1].From
	if !began.After(home.Add(-lookout)) {
		return nil, -lookout
	}
	return &began, began.Sub(home)
}

// cut is a ride with all that divides it into spans.
type cut struct {
	start, home                   time.Time
	down, civil, dark, lit, halts []Interval
}

func (c cut) spans() []Span {
	marks := []time.Time{c.start, c.home}
	for _, list := range [][]Interval{c.down, c.civil, c.dark, c.lit, c.halts} {
		for _, v := range list {
			marks = append(marks, v.From, v.To)
		}
	}
	slices.SortFunc(marks, time.Time.Compare)
	marks = slices.CompactFunc(marks, time.Time.Equal)
	out := make([]Span, 0, len(marks)-1)
	for i := 1; i < len(marks); i++ {
		out = append(out, c.span(marks[i-1], marks[i]))
	}
	return out
}

func (c cut) span(from, to time.Time) Span {
	s := Span{From: from, To: to, Dark: covers(c.dark, from), Lit: covers(c.lit, from), Stopped: covers(c.halts, from)}
	switch {
	case covers(c.civil, from):
		s.Sky = Night
	case covers(c.down, from):
		s.Sky = Twilight
	}
	return s
}
