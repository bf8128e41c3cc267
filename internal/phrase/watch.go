package phrase

import (
	"sync"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// Watch tells times in a zone, with the seconds dropped as a watch shows them.
type Watch struct {
	loc *time.Location
	day string // YYYY-MM-DD; times of another day name it
}

// WatchOf is a watch of an IANA zone on the day of at; with no time, times do not name their day. A name that is no zone
// gives UTC, and so does "Local": the machine's zone has no meaning for a club.
func WatchOf(zone string, at *timestamppb.Timestamp) Watch {
	w := Watch{loc: locationOf(zone)}
	if at.IsValid() {
		w.day = at.AsTime().In(w.loc).Format(time.DateOnly)
	}
	return w
}

// zones are those that were loaded, by name: the library reads a file each time. There are no more than the machine keeps.
var zones sync.Map

func locationOf(zone string) *time.Location {
	if loc, ok := zones.Load(zone); ok {
		return loc.(*time.Location)
	}
	loc, err := time.LoadLocation(zone)
	if err != nil || zone == "Local" {
		return time.UTC
	}
	zones.Store(zone, loc)
	return loc
}

// On is the watch on another day, YYYY-MM-DD.
func (w Watch) On(day string) Watch { return Watch{w.loc, day} }

// Day is the day whose times do not name it, YYYY-MM-DD; empty: each names none.
func (w Watch) Day() string { return w.day }

// Local is an instant in the watch's zone.
func (w Watch) Local(at time.Time) time.Time { return at.In(w.loc) }

// Time is HH:MM of an instant, whatever its day.
func (w Watch) Time(at time.Time) string { return w.Local(at).Format("15:04") }

// Clock is HH:MM, with the day where it is another; "not known" for no time.
func (w Watch) Clock(at *timestamppb.Timestamp) string {
	if !at.IsValid() {
		return "not known"
	}
	local := w.Local(at.AsTime())
	if w.day != "" && local.Format(time.DateOnly) != w.day {
		return local.Format("15:04 on Mon 2 Jan")
	}
	return local.Format("15:04")
}

// Date is the day in words, and Stamp the day with the time; both empty for no time.
func (w Watch) Date(at *timestamppb.Timestamp) string { return w.format(at, "Monday 2 January 2006") }

// Stamp is the day in words with the time; empty for no time.
func (w Watch) Stamp(at *timestamppb.Timestamp) string {
	return w.format(at, "Monday 2 January 2006, 15:04")
}

func (w Watch) format(at *timestamppb.Timestamp, layout string) string {
	if !at.IsValid() {
		return ""
	}
	return w.Local(at.AsTime()).Format(layout)
}

// Zone is the name of the zone for people, "Europe/London".
func (w Watch) Zone() string { return w.loc.String() }

// DayShort is a day, YYYY-MM-DD, as short as a list has room for: "Sun 13 Dec"; what is no day stays as it is.
func DayShort(day string) string {
	if at, err := time.Parse(time.DateOnly, day); err == nil {
		return at.Format("Mon 2 Jan")
	}
	return day
}

// Day is a day, YYYY-MM-DD, in words: "13 December 2026"; what is no day stays as it is.
func Day(day string) string {
	if at, err := time.Parse(time.DateOnly, day); err == nil {
		return at.Format("2 January 2006")
	}
	return day
}
