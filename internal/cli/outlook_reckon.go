package cli

import (
	"errors"
	"fmt"
	"time"

	"gritward/internal/civil"
	"gritward/internal/daylight"
	"gritward/internal/fault"
	"gritward/internal/pace"
)

// outlook is a season: what was asked for, and each of its dates.
type outlook struct {
	*outlookAsk
	days []outlookDay
}

// outlookDay is one date.
type outlookDay struct {
	date    time.Time         // civil, at midnight of UTC
	problem string            // why nothing is reckoned that day; "" as a rule
	outings []daylight.Outing // one for each group, in their order; none with a problem
}

// reckonOutlook plans each group once, in still air and on a dry road, and sets it off on every date.
func reckonOutlook(ask *outlookAsk) (*outlook, error) {
	season := &outlook{outlookAsk: ask}
	var starts []time.Time
	var reckoned []int // the days of starts
	for i, date := range ask.dates {
		at, problem, err := outlookStart(date, ask.clock, ask.zone)
		if err != nil {
			return nil, err
		}
		season.days = append(season.days, outlookDay{date: date, problem: problem})
		if problem == "" {
			starts, reckoned = append(starts, at), append(reckoned, i)
		}
	}
	for g := range ask.groups {
		outings, err := ask.outings(&ask.groups[g], starts)
		if err != nil {
			return nil, fmt.Errorf("--group %s: %w", ask.groups[g].id, err)
		}
		for i, outing := range outings {
			day := &season.days[reckoned[i]]
			day.outings = append(day.outings, outing)
		}
	}
	return season, nil
}

// outlookStart is the instant of a civil start. One that a change of the clocks skips or repeats is a problem, told and
// not guessed.
func outlookStart(date time.Time, clock string, zone *time.Location) (at time.Time, problem string, err error) {
	at, err = civil.Instant("--start", date.Format(civil.DateLayout)+"T"+clock, zone)
	var wrong *fault.Error
	if errors.As(err, &wrong) && len(wrong.Fields) > 0 {
		return time.Time{}, spaced(wrong.Fields[0].What), nil
	}
	return at, "", err
}

func (ask *outlookAsk) outings(group *outlookGroup, starts []time.Time) ([]daylight.Outing, error) {
	// Without wind and wet it does not matter when the ride that is moved sets off.
	ride, err := pace.Plan(ask.line, pace.Group{PaceKmh: group.paceKmh, Params: group.figures}, ask.dates[0], ask.stops, nil)
	if err != nil {
		return nil, err
	}
	group.takes = ride.Home().Sub(ride.Start())
	own := make([]time.Time, len(starts))
	for i, start := range starts {
		own[i] = start.Add(group.after)
	}
	return daylight.Season(ride, own, ask.rule)
}
