package policy

import (
	"fmt"
	"time"

	pb "gritward/proto/gritward/v1"
)

// change is a change of the clocks.
type change int

const (
	none change = iota
	back
	forward
)

func (c change) String() string {
	if c == back {
		return "clocks-back"
	}
	return "clocks-forward"
}

// changeDay gives the civil date on which the clocks of a zone change in a year: the date they showed when it came. It
// goes by the clocks themselves, not by what is called summer time: in Dublin winter time is the exception by law.
func changeDay(want change, year int, zone *time.Location) (int, time.Month, int, error) {
	var days []time.Time
	at := time.Date(year, time.January, 1, 0, 0, 0, 0, zone)
	for {
		_, next := at.ZoneBounds()
		_, before := at.Zone()
		if next.IsZero() {
			break
		}
		shown := next.UTC().Add(time.Duration(before) * time.Second)
		if shown.Year() > year {
			break
		}
		_, after := next.Zone()
		if want == back && after < before || want == forward && after > before {
			days = append(days, shown)
		}
		if !next.After(at) { // ZoneBounds of Go 1.26 stands still on the last day of a leap year after 2037
			next = at.AddDate(0, 0, 1)
		}
		at = next
	}
	const instead = "write a day instead, for example 1 Oct"
	switch len(days) {
	case 0:
		return 0, 0, 0, fmt.Errorf("%s means nothing in %s, whose clocks do not change so in %d; %s", want, zone, year, instead)
	case 1:
		year, month, day := days[0].Date()
		return year, month, day, nil
	default:
		return 0, 0, 0, fmt.Errorf("%s is not one day in %s, whose clocks change so %d times in %d; %s", want, zone, len(days), year, instead)
	}
}

// everYear is a year so far on that the time-zone database has nothing but the rule that holds for all years to come.
const everYear = 2100

// CheckZone finds what a policy asks of a time zone that the zone does not have: a season that begins or ends when the
// clocks change, where they do not.
func (p *Policy) CheckZone(zone *time.Location) []*pb.Problem {
	var problems []*pb.Problem
	for _, e := range []struct {
		path string
		end  end
	}{{"season.from", p.season.from}, {"season.to", p.season.to}} {
		if e.end.change == none {
			continue
		}
		if _, _, _, err := changeDay(e.end.change, everYear, zone); err != nil {
			problems = append(problems, p.positions.Problem(pb.Problem_ERROR, e.path,
				fmt.Sprintf("the clocks of %s do not change every year, so %s means nothing there", zone, e.end.change),
				"write a day instead, for example 1 Oct or 31 Mar"))
		}
	}
	return problems
}
