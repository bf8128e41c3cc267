package cli

import (
	"errors"
	"regexp"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
)

// dateOf reads the date of a flag, YYYY-MM-DD.
func dateOf(flag, text string) (time.Time, error) {
	day, err := time.Parse(civil.DateLayout, text)
	if err != nil {
		if what := monthTooShort(text); what != "" {
			return time.Time{}, usagef("--%s %q: %s", flag, text, what)
		}
		return time.Time{}, usagef("--%s %q is not a date; write it as 2026-12-13", flag, text)
	}
	return day, nil
}

// dateText is dateOf for a flag that may be left out, and gives the date as the protocol has it.
func dateText(flag, text string) (string, error) {
	if text == "" {
		return "", nil
	}
	day, err := dateOf(flag, text)
	if err != nil {
		return "", err
	}
	return day.Format(civil.DateLayout), nil
}

var dateForm = regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})(?:\D|$)`)

// monthTooShort says how many days a month has when text is a date but for a day that the month lacks; "" otherwise.
func monthTooShort(text string) string {
	parts := dateForm.FindStringSubmatch(text)
	if parts == nil {
		return ""
	}
	year, _ := strconv.Atoi(parts[1]) // digits, as the form has it
	month, _ := strconv.Atoi(parts[2])
	day, _ := strconv.Atoi(parts[3])
	if month < 1 || month > 12 {
		return ""
	}
	last := time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC)
	if day >= 1 && day <= last.Day() {
		return ""
	}
	return last.Format("January 2006") + " has " + count(last.Day(), "day", "days")
}

// localTime reads "2026-12-13 09:00", or the same with a T, and gives it as the protocol has it.
func localTime(flag, text string) (string, error) {
	trimmed := strings.TrimSpace(text)
	wall, err := time.Parse(civil.TimeLayout, strings.Replace(trimmed, " ", "T", 1))
	if err != nil || len(trimmed) != len(civil.TimeLayout) { // time.Parse lets 9:00 pass for 09:00
		if what := monthTooShort(trimmed); what != "" {
			return "", usagef("--%s %q: %s", flag, text, what)
		}
		return "", usagef(`--%s %q is not a date and time; write it as "2026-12-13 09:00"`, flag, text)
	}
	return wall.Format(civil.TimeLayout), nil
}

// orClock adds to an error of localTime that a time of the day alone will do too.
func orClock(err error, day string) error {
	if err == nil || !strings.Contains(err.Error(), "write it as") {
		return err
	}
	return usagef("%s, or as 11:40 for %s", err, day)
}

// clockOf reads HH:MM.
func clockOf(text string) (hour, minute int, ok bool) {
	wall, err := time.Parse("15:04", text)
	return wall.Hour(), wall.Minute(), err == nil && len(text) == len("15:04")
}

// instantOf is the instant of a civil time as localTime gives it, in the club's zone.
func instantOf(flag, local string, zone *time.Location) (*timestamppb.Timestamp, error) {
	at, err := civil.Instant("--"+flag, local, zone)
	var wrong *fault.Error
	if errors.As(err, &wrong) && len(wrong.Fields) > 0 { // a change of the clocks
		return nil, usagef("%s: %s", wrong.Fields[0].Path, spaced(wrong.Fields[0].What))
	}
	if err != nil {
		return nil, err
	}
	return timestamppb.New(at), nil
}

// noon is the middle of a civil day in the club's zone.
func (s *session) noon(flag, date string) (*timestamppb.Timestamp, error) {
	zone, err := s.zone()
	if err != nil {
		return nil, err
	}
	on, err := dateOf(flag, date)
	if err != nil {
		return nil, err
	}
	return timestamppb.New(time.Date(on.Year(), on.Month(), on.Day(), 12, 0, 0, 0, zone)), nil
}
