package sun

import (
	"fmt"
	"time"
)

const (
	// RiseSetDeg is the altitude of the sun's centre at sunrise and sunset:
	// 34 arcmin of mean refraction and 16 arcmin of semidiameter below the
	// horizon (the usual almanac convention, as of the US Naval Observatory).
	RiseSetDeg = -0.8333
	// CivilDeg is the altitude at civil dawn and civil dusk (same source).
	CivilDeg = -6.0

	firstYear, lastYear = 1900, 2100 // where the series were made to serve
)

// Day holds the sun's events of one civil day at one place.
//
// The day's solar noon is the upper transit within the local civil day. Dawn
// and sunrise lie between the lower transit before it and noon; sunset and
// dusk between noon and the lower transit after. At high latitudes in summer
// an event may therefore fall on the neighbouring civil date. An event that
// does not occur is nil.
type Day struct {
	SolarNoon                             time.Time
	Sunrise, Sunset, CivilDawn, CivilDusk *time.Time
	MaxAltDeg                             float64 // greatest altitude between the two lower transits
}

// AlwaysUp reports that the sun neither rises nor sets because it stays up.
func (d Day) AlwaysUp() bool {
	return d.Sunrise == nil && d.Sunset == nil && d.MaxAltDeg >= RiseSetDeg
}

// NeverUp reports that the sun neither rises nor sets because it stays down.
func (d Day) NeverUp() bool {
	return d.Sunrise == nil && d.Sunset == nil && d.MaxAltDeg < RiseSetDeg
}

// On computes the sun's events for a civil day in a zone; times are given in
// that zone. It refuses a place out of range, a date that the calendar or the
// zone does not have, a nil zone and a year outside 1900 to 2100.
//
// Where a civil day holds no upper transit or two (a clock half a day from the
// sun), the transit nearest to the middle of the day is taken.
func On(year int, month time.Month, day int, zone *time.Location, p Place) (Day, error) {
	if err := p.Validate(); err != nil {
		return Day{}, err
	}
	if zone == nil {
		return Day{}, fmt.Errorf("sun: no time zone given: load one by its IANA name, such as Europe/London")
	}
	if year < firstYear || year > lastYear {
		return Day{}, fmt.Errorf("sun: year %d is outside %d to %d, for which the series serve", year, firstYear, lastYear)
	}
	midday := time.Date(year, month, day, 12, 0, 0, 0, zone)
	if y, m, d := midday.Date(); y != year || m != month || d != day {
		return Day{}, fmt.Errorf("sun: there is no %04d-%02d-%02d in %v: check the date", year, int(month), day, zone)
	}
	start := days(time.Date(year, month, day, 0, 0, 0, 0, zone))
	end := days(time.Date(year, month, day+1, 0, 0, 0, 0, zone))
	return newSite(p).day((start+end)/2, zone), nil
}

func (s site) day(middle float64, zone *time.Location) Day {
	noon := s.transit(middle, 0)
	before, after := s.transit(noon-0.5, 180), s.transit(noon+0.5, 180)
	event := func(altDeg float64, rising bool) *time.Time {
		from, to := before, noon
		if !rising {
			from, to = noon, after
		}
		for _, c := range s.crossings(from, to, altDeg) {
			if c.rising == rising {
				at := instant(c.d, zone)
				return &at
			}
		}
		return nil
	}
	return Day{
		SolarNoon: instant(noon, zone),
		Sunrise:   event(RiseSetDeg, true), Sunset: event(RiseSetDeg, false),
		CivilDawn: event(CivilDeg, true), CivilDusk: event(CivilDeg, false),
		MaxAltDeg: s.highest(before, after),
	}
}

func (s site) highest(from, to float64) float64 {
	top := max(s.altitudeDeg(from), s.altitudeDeg(to))
	for _, d := range s.turns(from, to) {
		top = max(top, s.altitudeDeg(d))
	}
	return top
}
