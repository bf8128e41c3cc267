package readiness

import "time"

// civilDay is a day of the calendar as the number of days since 1 January 1970; noDay where none was declared.
type civilDay int32

// noDay is no day, or text that is not one.
const noDay civilDay = -1 << 31

// parseDay reads YYYY-MM-DD. Dates are read for every limit of every bike, so this is done by hand: the days before a
// year and a month of the Gregorian calendar, counted in years that begin on 1 March.
func parseDay(text string) civilDay {
	if len(text) != len(time.DateOnly) || text[4] != '-' || text[7] != '-' {
		return noDay
	}
	y1, y2, month, day := pair(text[0], text[1]), pair(text[2], text[3]), pair(text[5], text[6]), pair(text[8], text[9])
	if y1 > 99 || y2 > 99 || y1+y2 == 0 || month < 1 || month > 12 || day < 1 || day > 31 {
		return noDay
	}
	year := 100*y1 + y2
	if day > 28 && int(day) > daysIn(int(year), int(month)) {
		return noDay
	}
	if month <= 2 {
		year--
		month += 12
	}
	return civilDay(365*year+year/4-year/100+year/400+(153*(month-3)+2)/5+day) - 719469
}

// pair is a number of two digits; over 99 for anything else.
func pair(tens, ones byte) uint32 {
	tens, ones = tens-'0', ones-'0'
	if tens > 9 || ones > 9 {
		return 1000
	}
	return uint32(tens)*10 + uint32(ones)
}

func daysIn(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	default:
		return 31
	}
}

// dayOf is the day that an instant has in a zone.
func dayOf(at time.Time, zone *time.Location) civilDay {
	at = at.In(zone)
	_, offset := at.Zone()
	seconds := at.Unix() + int64(offset)
	days := seconds / 86400
	if seconds%86400 < 0 {
		days--
	}
	return civilDay(days)
}

func (d civilDay) time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// text writes the day as the protocol does.
func (d civilDay) text() string { return d.time().Format(time.DateOnly) }

// date takes the day apart; parseDay the other way round.
func (d civilDay) date() (year int, month time.Month, day int) { return d.time().Date() }

// words writes "21 November 2026".
func (d civilDay) words() string {
	var w words
	w.day(d)
	return w.b.String()
}
