package cli

import (
	"fmt"
	"strings"
	"time"

	"gritward/internal/civil"
	"gritward/internal/daylight"
	"gritward/internal/pace"
	"gritward/internal/route"
)

const (
	outlookGroupForm = "ID:KMH[:TITLE][,after=10]"
	everyDate        = "any" // for a weekday
	maxOutlookDates  = 400   // every date of a year, and some
	maxOutlookGroups = 10    // as many as a ride has
	maxAfterMin      = 180   // as a ride has it
	maxDarkMargin    = 12 * time.Hour
)

// outlookAsk is what an outlook is asked for.
type outlookAsk struct {
	line   *route.Route
	groups []outlookGroup
	stops  []pace.Stop
	clock  string // HH:MM of the first group's start
	day    string // the weekday, or everyDate
	dates  []time.Time
	zone   *time.Location
	rule   daylight.Rule
}

// outlookGroup is a group as far as its times go.
type outlookGroup struct {
	id, title string
	paceKmh   float64
	figures   pace.Params
	after     time.Duration // after the first group's start
	takes     time.Duration // from its start to home, stops included
}

// read takes the flags as they were typed, all but the route.
func (f *outlookFlags) read(asJSON bool) (*outlookAsk, error) {
	if f.csv && asJSON {
		return nil, usagef("--csv and --json: print one of them at a time")
	}
	ask := &outlookAsk{clock: f.start, day: strings.ToLower(f.weekday)}
	if _, _, ok := clockOf(f.start); !ok {
		return nil, usagef("--start %q is not a time of day; write it as 09:00", f.start)
	}
	var err error
	if ask.zone, err = civil.Zone("--zone", f.zone); err != nil {
		return nil, usagef("--zone: %q is not a time zone; write one of the IANA names, for example Europe/London", f.zone)
	}
	if ask.rule, err = f.rule(); err != nil {
		return nil, err
	}
	if ask.dates, err = f.dates(); err != nil {
		return nil, err
	}
	if ask.groups, err = outlookGroups(f.groups); err != nil {
		return nil, err
	}
	return ask, nil
}

func (f *outlookFlags) rule() (daylight.Rule, error) {
	if f.margin < 0 || f.margin > maxDarkMargin {
		return daylight.Rule{}, usagef("--margin %v is not from 0 to 12 hours; write it as 30m or 1h15m", f.margin)
	}
	for _, begins := range []daylight.Begins{daylight.Sunset, daylight.LightingUp, daylight.CivilDusk} {
		if f.dark == begins.String() {
			return daylight.Rule{Begins: begins, Margin: f.margin}, nil
		}
	}
	return daylight.Rule{}, usagef("--dark %q is none of sunset, lighting-up, civil-dusk", f.dark)
}

// dates are the civil dates, at midnight of UTC.
func (f *outlookFlags) dates() ([]time.Time, error) {
	from, err := dateOf("from", f.from)
	if err != nil {
		return nil, err
	}
	to, err := dateOf("to", f.to)
	if err != nil {
		return nil, err
	}
	switch {
	case from.Year() < 1900 || to.Year() > 2100:
		return nil, usagef("--from %s --to %s: the sun is reckoned for the years 1900 to 2100; take dates in them", f.from, f.to)
	case to.Before(from):
		return nil, usagef("--to %s is before --from %s: swap them", f.to, f.from)
	}
	wanted, err := weekdaysOf(f.weekday)
	if err != nil {
		return nil, err
	}
	var dates []time.Time
	for date := from; !date.After(to); date = date.AddDate(0, 0, 1) {
		if wanted[date.Weekday()] {
			dates = append(dates, date)
		}
	}
	switch {
	case len(dates) == 0:
		return nil, usagef("there is no %s from %s to %s; give a longer span or another --weekday", strings.ToLower(f.weekday), f.from, f.to)
	case len(dates) > maxOutlookDates:
		return nil, usagef("--from %s --to %s: %d dates; an outlook has at most %d: give a shorter span", f.from, f.to, len(dates), maxOutlookDates)
	}
	return dates, nil
}

func weekdaysOf(text string) (map[time.Weekday]bool, error) {
	wanted := map[time.Weekday]bool{}
	for day := time.Sunday; day <= time.Saturday; day++ {
		if strings.EqualFold(text, everyDate) || strings.EqualFold(text, day.String()) {
			wanted[day] = true
		}
	}
	if len(wanted) == 0 {
		return nil, usagef("--weekday %q is not a day of the week; write one as sunday, or any for every date", text)
	}
	return wanted, nil
}

// outlookGroups reads the groups. What else a ride's group may say (size, leader) does not bear on its times.
func outlookGroups(texts []string) ([]outlookGroup, error) {
	if len(texts) > maxOutlookGroups {
		return nil, usagef("--group: %d groups; an outlook has at most %d, as a ride has", len(texts), maxOutlookGroups)
	}
	seen := map[string]bool{}
	var groups []outlookGroup
	for _, text := range texts {
		flag, err := groupOf(text)
		if err != nil {
			return nil, err
		}
		group, after := flag.group, flag.group.GetStartOffsetMin()
		switch kmh := group.GetPaceKmh(); {
		case kmh < pace.MinPaceKmh || kmh > pace.MaxPaceKmh:
			return nil, usagef("--group %q: a pace is from %g to %g km/h, steady on a flat road in still air", text, pace.MinPaceKmh, pace.MaxPaceKmh)
		case after < 0 || after > maxAfterMin:
			return nil, usagef("--group %q: after is from 0 to %d minutes", text, maxAfterMin)
		case seen[group.GetId()]:
			return nil, usagef("--group %q: there is a group %q already; give each an id of its own", text, group.GetId())
		}
		seen[group.GetId()] = true
		groups = append(groups, outlookGroup{id: group.GetId(), title: group.GetTitle(), paceKmh: group.GetPaceKmh(), figures: flag.figures,
			after: time.Duration(after) * time.Minute})
	}
	return groups, nil
}

// checkStops reads the stops, which lie on the route.
func (ask *outlookAsk) checkStops(texts []string) error {
	stops, err := parseAll(texts, stopOf)
	if err != nil {
		return err
	}
	for i, stop := range stops {
		atM, minutes := stop.GetAtDistanceM(), stop.GetMinutes()
		switch {
		case atM < 0 || atM > ask.line.DistanceM:
			return usagef("--stop %q: the route goes from 0 to %s; put the stop on it", texts[i], km(ask.line.DistanceM))
		case minutes < 1 || time.Duration(minutes)*time.Minute > pace.MaxStop:
			return usagef("--stop %q: a stop is from 1 to %.0f minutes", texts[i], pace.MaxStop.Minutes())
		}
		ask.stops = append(ask.stops, pace.Stop{Name: stop.GetTitle(), AtM: atM, For: time.Duration(minutes) * time.Minute})
	}
	return nil
}

// every tells on which days: "every Sunday".
func (ask *outlookAsk) every() string {
	if ask.day == everyDate {
		return "every day"
	}
	return fmt.Sprintf("every %s", ask.dates[0].Weekday())
}
