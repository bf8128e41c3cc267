package cli

import (
	"fmt"
	"math"
	"time"

	"gritward/internal/daylight"
)

const (
	outlookAssumed = "Reckoned for still air and a dry road: wind, rain and ice change the times."
	outlookCaution = "The horizon is taken as flat and the sky as clear: hills, trees and cloud make it dark earlier. Local road law\n" +
		"says when lights must be lit; take lights whenever a delay would bring you home in the dark."
)

// The words of an outing round to the safe side: a margin down, lights up, a latest start down.

// clockOn is HH:MM, with the date where it is another one.
func clockOn(at, date time.Time) string {
	if at.Format(time.DateOnly) != date.Format(time.DateOnly) {
		return at.Format("15:04 on 2 Jan")
	}
	return at.Format("15:04")
}

func darkWords(o daylight.Outing, date time.Time) string {
	if o.DarkAtFinish == nil {
		return "does not begin"
	}
	return clockOn(*o.DarkAtFinish, date)
}

// marginWords tells how long before dark the group is home: "86 min", "-12 min" in the dark.
func marginWords(o daylight.Outing) string {
	switch {
	case o.DarkAtFinish != nil:
		return fmt.Sprintf("%.0f min", math.Floor(o.MarginToDark.Minutes()))
	case o.MarginToDark > 0:
		return "light all day"
	default:
		return "dark all day"
	}
}

func litWords(o daylight.Outing) string {
	if o.LitFor <= 0 {
		return "none"
	}
	return fmt.Sprintf("%.0f min", math.Ceil(o.LitFor.Minutes()))
}

func latestWords(o daylight.Outing, date time.Time) string {
	if o.LatestStart == nil {
		return "no start does"
	}
	return clockOn(*o.LatestStart, date)
}

// outlookSubject is what it is about, in a line.
func outlookSubject(s *outlook) string {
	title := s.line.Name
	if title == "" {
		title = "A route without a title"
	}
	first, last := s.dates[0], s.dates[len(s.dates)-1]
	return fmt.Sprintf("%s, %s, %s at %s from %s to %s, times of %s.", title, km(s.line.DistanceM), s.every(), s.clock,
		first.Format("2 January 2006"), last.Format("2 January 2006"), s.zone)
}

func outlookRule(s *outlook) string {
	begins := map[daylight.Begins]string{
		daylight.Sunset: "at sunset", daylight.LightingUp: "30 min after sunset", daylight.CivilDusk: "when the sun is 6 degrees down",
	}[s.rule.Begins]
	return fmt.Sprintf("Dark begins %s; lights, and the latest start, with a margin of %.0f min to it.", begins, s.rule.Margin.Minutes())
}

// summary tells of one group how the season goes.
func (s *outlook) summary(g int) string {
	lit, least, on := 0, time.Duration(math.MaxInt64), time.Time{}
	reckoned := 0
	for _, day := range s.days {
		if day.problem != "" {
			continue
		}
		reckoned++
		if o := day.outings[g]; o.MarginToDark < least {
			least, on = o.MarginToDark, day.date
		}
		if day.outings[g].LitFor > 0 {
			lit++
		}
	}
	group := s.groups[g]
	if reckoned == 0 {
		return group.id + ": nothing could be reckoned."
	}
	home := "before"
	if least < 0 {
		home = "after"
	}
	return fmt.Sprintf("%s rides %s; needs lights on %d of %s; closest to dark on %s: home %.0f min %s dark begins.", group.id,
		takesWords(group.takes), lit, count(reckoned, "date", "dates"), on.Format("2 January 2006"),
		math.Abs(math.Floor(least.Minutes())), home)
}

// takesWords is a length of time in hours and minutes.
func takesWords(d time.Duration) string {
	minutes := int(math.Ceil(d.Minutes()))
	return fmt.Sprintf("%d h %02d min", minutes/60, minutes%60)
}
