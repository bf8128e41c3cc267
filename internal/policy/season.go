package policy

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	pb "gritward/proto/gritward/v1"
)

// dayHint says how to write an end of the season.
const dayHint = "write a day like 1 Oct, or clocks-back or clocks-forward for the day on which the clocks change"

// season is a part of the year, both ends included.
type season struct{ from, to end }

// end is a day of the year: a day of a month, or the day of a change of the clocks.
type end struct {
	month  time.Month
	day    int
	change change
}

// dayForm is a day with a month in English, in full or by its first three letters.
var dayForm = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^([1-9]|[12][0-9]|3[01]) ([A-Za-z]+)$`) })

// readSeason reads both ends.
func readSeason(message *pb.Season) (season, error) {
	from, err := readEnd(message.GetFrom())
	if err != nil {
		return season{}, err
	}
	to, err := readEnd(message.GetTo())
	return season{from, to}, err
}

// readEnd reads "1 Oct", "clocks-back" or "clocks-forward".
func readEnd(text string) (end, error) {
	switch text {
	case "clocks-back":
		return end{change: back}, nil
	case "clocks-forward":
		return end{change: forward}, nil
	}
	parts := dayForm().FindStringSubmatch(text)
	if parts == nil {
		return end{}, fmt.Errorf("%q is not a day of the year", text)
	}
	day, _ := strconv.Atoi(parts[1])
	for month := time.January; month <= time.December; month++ {
		name := strings.ToLower(parts[2])
		if full := strings.ToLower(month.String()); name != full && name != full[:3] {
			continue
		}
		if longest := time.Date(2000, month+1, 0, 0, 0, 0, 0, time.UTC).Day(); day > longest {
			return end{}, fmt.Errorf("%s has %d days at most", month, longest)
		}
		return end{month: month, day: day}, nil
	}
	return end{}, fmt.Errorf("%q is not a month", parts[2])
}

// in gives the end's place in a year, month and day as one number. 29 Feb in a year without one lies between 28 Feb and
// 1 Mar, so that a season ends on 28 Feb or begins on 1 Mar then.
func (e end) in(year int, zone *time.Location) (int, error) {
	if e.change == none {
		return order(e.month, e.day), nil
	}
	_, month, day, err := changeDay(e.change, year, zone)
	return order(month, day), err
}

func order(month time.Month, day int) int { return int(month)*100 + day }

// holds tells whether a date is in the season. Both ends are looked up in the date's own year; where the first lies
// after the last, the season goes over the new year.
func (s season) holds(date time.Time, zone *time.Location) (bool, error) {
	year, month, day := date.Date()
	from, err := s.from.in(year, zone)
	if err != nil {
		return false, err
	}
	to, err := s.to.in(year, zone)
	if err != nil {
		return false, err
	}
	at := order(month, day)
	if from <= to {
		return from <= at && at <= to, nil
	}
	return at >= from || at <= to, nil
}

// InSeason tells whether a civil date is in the policy's season. Of date only year, month and day count; zone is the
// club's time zone, which says when clocks change. The error says what to write instead where the clocks of the zone
// do not change in that year, or change more than once.
func (p *Policy) InSeason(date time.Time, zone *time.Location) (bool, error) {
	return p.season.holds(date, zone)
}
